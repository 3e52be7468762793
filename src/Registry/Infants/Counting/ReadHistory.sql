-- Everything ever said of the given infants that decides how their tests count, with the moments it began and ceased to hold; the counted
-- tests as they are stored; and the policies in order.
select infant_id, recorded_at, superseded_at, id, site_id, born_on, born_at, place, gestation_weeks, nicu_admitted_on, nicu_discharged_on,
       discharged_on
  from births where infant_id = any(@infants) order by recorded_at, id;
select infant_id, recorded_at, superseded_at, transferred_on, to_site_id from transfers where infant_id = any(@infants) order by id;
select s.infant_id, s.recorded_at, s.superseded_at, s.id, s.site_id, s.ear, s.method, s.outcome, s.reason, s.stage, s.performed_at,
       s.instrument, s.probe, s.screener, coalesce(sub.received_at, s.recorded_at)
  from screenings s left join submissions sub on sub.id = s.submission_id
 where s.infant_id = any(@infants) order by s.id;
select {columns} from counted_tests where infant_id = any(@infants);
select document::text from policies where withdrawn_at is null order by effective_from, recorded_at
