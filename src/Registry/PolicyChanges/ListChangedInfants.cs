using Registry.Access;
using Registry.Facts;
using Registry.Rules;
using Registry.Ui;

namespace Registry.PolicyChanges;

/// <summary>A page of the infants behind one number of a draft.</summary>
/// <param name="Sites">Names by id.</param>
public sealed record ChangedInfants(
    StatusChange? Change, int Total, int Start, IReadOnlyList<KnownInfant> Infants, IReadOnlyDictionary<Guid, string> Sites)
{
    public const int PageSize = 100;

    public bool HasNext => Start + Infants.Count < Total;
}

/// <summary>Lists the infants behind one number of a draft, by day of birth; the read is recorded.</summary>
public sealed class ListChangedInfants(CountStatusChanges count, SiteChoices sites, AuditReads audit)
{
    /// <returns>Null when there is no such draft.</returns>
    public async Task<ChangedInfants?> PageAsync(Guid draft, StatusChange? change, int start, CancellationToken ct)
    {
        if (await count.BehindAsync(draft, change, ct) is not { } behind) return null;
        var page = behind.OrderBy(i => i.Facts.Birth.Date).ThenBy(i => i.Id.Value).Skip(start).Take(ChangedInfants.PageSize).ToList();
        await audit.ListAsync(page.Select(i => i.Id), ct);
        return new(change, behind.Count, start, page, (await sites.AllAsync(ct)).ToDictionary(s => s.Id.Value, s => s.Name));
    }
}
