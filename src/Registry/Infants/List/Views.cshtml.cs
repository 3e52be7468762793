using Registry.Ui;

namespace Registry.Infants.List;

/// <summary>The saved views of the list of infants.</summary>
public sealed class InfantViewsModel(KeepViews keep, SiteChoices sites) : ViewsModel(keep, sites, ViewedList.Infants)
{
    public override string ListPath => "/infants";
    public override string Unfiltered => InfantsModel.Unfiltered;

    public override string Describe(ShownView view) => InfantFilterWords.Shown(InfantFilter.OfQuery(view.Filter), SiteNames);

    protected override string Read(IQueryCollection query) => InfantFilter.Read(query).ToQuery();
}
