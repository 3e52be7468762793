using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Platform;
using Registry.Platform.Encryption;
using Registry.Records;

namespace Registry.Searching;

/// <summary>A search with names for ids.</summary>
public sealed record SearchLine(SearchRecord Search, string? Note, string By, bool MayTakeBack);

/// <summary>A closing with names for ids.</summary>
public sealed record ClosingLine(WorkClosing Closing, string By, string? ReopenedBy);

/// <summary>The searches for an infant's family and the closings of its work, and the lines they add to its story. Who asks may see the
/// infant.</summary>
public sealed class ShowSearches(ViewerDatabase data, RegistryDb names, RecordSearch record, ProgramClock clock, Viewer viewer)
{
    /// <summary>Latest first, those taken back too.</summary>
    public async Task<(IReadOnlyList<SearchLine> Searches, IReadOnlyList<ClosingLine> Closings)> OfAsync(
        InfantId infant, CancellationToken ct)
    {
        await using var db = await data.OpenDbAsync(viewer, ct);
        var searches = await db.Searches.AsNoTracking().Where(s => s.InfantId == infant)
            .OrderByDescending(s => s.SearchedOn).ThenByDescending(s => s.RecordedAt).ToListAsync(ct);
        var closings = await db.WorkClosings.AsNoTracking().Where(c => c.InfantId == infant).OrderByDescending(c => c.ClosedAt)
            .ToListAsync(ct);
        if (searches.Count + closings.Count == 0) return ([], []);
        var people = await PeopleAsync(searches.Select(s => s.EnteredBy).Concat(closings.Select(c => c.ClosedBy))
            .Concat(closings.Select(c => c.ReopenedBy).OfType<Guid>()), ct);
        var named = searches.Select(s => s.SiteId).OfType<SiteId>().ToList();
        var sites = await names.Sites.AsNoTracking().Where(s => named.Contains(s.Id)).ToDictionaryAsync(s => s.Id, s => s.Name, ct);
        return (
            searches.ConvertAll(s => new SearchLine(s, FieldKeys.OfProcess.Decrypt(s.Note, RecordSearch.NotePlace),
                ContactWords.By(people.GetValueOrDefault(s.EnteredBy), s.EnteredAs, s.SiteId is { } site ? sites[site] : null),
                record.IsAllowed && record.MayTakeBack(s))),
            closings.ConvertAll(c => new ClosingLine(c, ContactWords.By(people.GetValueOrDefault(c.ClosedBy), c.ClosedAs, null),
                c.ReopenedBy is { } by ? people.GetValueOrDefault(by) : null)));
    }

    /// <summary>Lines of the infant's story, of what was known at a moment.</summary>
    public async Task<IReadOnlyList<StoryLine>> TellAsync(InfantId infant, DateTimeOffset known, CancellationToken ct)
    {
        var (searches, closings) = await OfAsync(infant, ct);
        return
        [
            .. searches.Where(l => l.Search.RecordedAt <= known && !(l.Search.SupersededAt <= known)).Select(l => new StoryLine(
                l.Search.SearchedOn.ToDateTime(default), false, SearchWords.Told(l), SearchWords.Detail(l), [])),
            .. closings.Where(l => l.Closing.ClosedAt <= known).Select(l => new StoryLine(
                At(l.Closing.ClosedAt), true, SearchWords.Told(l.Closing), l.By, [])),
            .. closings.Where(l => l.Closing.ReopenedAt <= known).Select(l => new StoryLine(
                At(l.Closing.ReopenedAt!.Value), true, SearchWords.ToldReopened, l.ReopenedBy ?? "", [])),
        ];
    }

    private DateTime At(DateTimeOffset moment) => TimeZoneInfo.ConvertTime(moment, clock.Zone).DateTime;

    private Task<Dictionary<Guid, string>> PeopleAsync(IEnumerable<Guid> ids, CancellationToken ct)
    {
        var asked = ids.Distinct().ToList();
        return names.Users.AsNoTracking().Where(p => asked.Contains(p.Id)).ToDictionaryAsync(p => p.Id, p => p.DisplayName, ct);
    }
}
