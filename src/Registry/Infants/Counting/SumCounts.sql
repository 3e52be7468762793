-- What is kept of a site: its sums, and its changes that are not in them.
select counted_by, grouping, site_id, unit, day, changed_on, {figures} from screen_counts where site_id = @site;
select {places}, {figures} from count_changes where site_id = @site
