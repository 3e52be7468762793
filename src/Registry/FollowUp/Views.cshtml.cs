using Registry.Infants.List;
using Registry.Ui;

namespace Registry.FollowUp;

/// <summary>The saved views of the work list.</summary>
public sealed class WorkViewsModel(KeepViews keep, SiteChoices sites) : ViewsModel(keep, sites, ViewedList.Work)
{
    public override string ListPath => "/follow-up";
    public override string Unfiltered => "/follow-up?tray=call_today";

    public override string Describe(ShownView view) => WorkWords.Of(WorkFilter.OfQuery(view.Filter), SiteNames);

    protected override string Read(IQueryCollection query) => WorkFilter.Read(query).ToQuery();
}
