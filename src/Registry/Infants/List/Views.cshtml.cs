namespace Registry.Infants.List;

/// <summary>The saved views of the list of infants.</summary>
public sealed class InfantViewsModel(KeepViews keep) : ViewsModel(keep, ViewedList.Infants)
{
    public override string ListPath => "/infants";
    public override string Unfiltered => InfantsModel.Unfiltered;

    public override string Describe(ShownView view) => InfantFilterWords.Shown(InfantFilter.OfQuery(view.Filter));

    protected override string Read(IQueryCollection query) => InfantFilter.Read(query).ToQuery();
}
