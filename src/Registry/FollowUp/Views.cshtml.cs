using Registry.Infants.List;

namespace Registry.FollowUp;

/// <summary>The saved views of the work list.</summary>
public sealed class WorkViewsModel(KeepViews keep) : ViewsModel(keep, ViewedList.Work)
{
    public override string ListPath => "/follow-up";
    public override string Unfiltered => "/follow-up?tray=call_today";

    public override string Describe(ShownView view) => WorkWords.Of(WorkFilter.OfQuery(view.Filter));

    protected override string Read(IQueryCollection query) => WorkFilter.Read(query).ToQuery();
}
