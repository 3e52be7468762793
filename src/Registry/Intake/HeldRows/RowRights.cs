using Registry.Access;
using Registry.Records;

namespace Registry.Intake.HeldRows;

/// <summary>Who may decide what about a site's held and rejected rows. Whoever may make a decision may take it back.</summary>
public static class RowRights
{
    /// <param name="viewer">Who asks; a site's key is nobody here.</param>
    /// <param name="site">Whose rows; null: several sites'.</param>
    /// <param name="kind">The decision.</param>
    public static bool May(Viewer viewer, SiteId? site, RowChangeKind kind)
    {
        if (viewer.PersonId is null) return false;
        if (viewer.IsCoordinator) return true;
        if (site is not { } own || !viewer.MaySubmitFor(own)) return false;
        return kind switch
        {
            RowChangeKind.Corrected or RowChangeKind.AskedAgain => true,
            RowChangeKind.Discarded => viewer.IsSiteManager,
            _ => false, // it takes a look at infants of other sites
        };
    }
}
