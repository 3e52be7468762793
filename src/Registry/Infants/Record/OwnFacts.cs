using System.Globalization;
using Registry.Access;
using Registry.Facts;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>A way to put right what the viewer's site said.</summary>
/// <param name="Href">Where.</param>
/// <param name="Words">On the page.</param>
/// <param name="About">What it is about, for who does not see the line.</param>
public sealed record OwnAction(string Href, string Words, string About);

/// <summary>
/// What a viewer may put right in a record: what their own site reported, or reported about its own birth, while it stands. Another
/// site's words offer nothing. What is said of a family is said anew as it changes, and is not corrected here.
/// </summary>
public static class OwnFacts
{
    /// <returns>The site in whose name it is corrected; null: it is not the viewer's to correct, or was entered on this page.</returns>
    public static SiteId? SiteOf(TimeLineEntry entry, OpenedRecord record, Viewer viewer)
    {
        if (entry is not { Fact: { } fact, Said.SubmissionId: { } sent } || EnterWords.IsOfFamily(FactKinds.Of(fact).Kind)) return null;
        if (record.ByGlass || !record.Sent.TryGetValue(sent, out var by)) return null;
        if (viewer.IsCoordinator) return by.Site;
        return viewer.SiteId is { } own && (own == by.Site || own == entry.Said.SiteId) ? own : null;
    }

    /// <summary>What stands in the place of a fact by now, as far as its site says: itself, or the one thing said of the same since.
    /// </summary>
    public static TimeLineEntry? Standing(TimeLineEntry entry, OpenedRecord record, Viewer viewer)
    {
        if (entry.SupersededAt is null) return entry;
        var since = record.TimeLine.Where(e => e is { SupersededAt: null, Fact: { } fact } && CompareFacts.AboutTheSame(entry.Fact!, fact)
            && SiteOf(e, record, viewer) == SiteOf(entry, record, viewer)).ToList();
        return since.Count == 1 ? since[0] : null;
    }

    /// <summary>What a line of the story offers.</summary>
    public static IEnumerable<OwnAction> Of(StoryLine line, OpenedRecord record, Viewer viewer)
    {
        var back = $"back=/infants/{record.Infant}";
        foreach (var entry in line.Entries.Where(e => e.SupersededAt is null && SiteOf(e, record, viewer) is not null))
        {
            var kind = Codes.Of(FactKinds.Of(entry.Fact!).Kind);
            yield return new($"/infants/{record.Infant}/enter/{kind}?corrects={entry.Said.Id}&{back}",
                line.Entries.Count == 1 ? "Correct" : $"Correct {Which((ReportedScreening)entry.Fact!)}", About(entry));
        }

        foreach (var sent in line.Entries.Where(e => CanUndo(e, record, viewer)).DistinctBy(e => e.Said.SubmissionId))
            yield return new($"/entered/{sent.Said.SubmissionId}?{back}", "Undo", About(sent));
    }

    /// <summary>It was typed, for a site the viewer types for, and took the place of nothing: then there is something to go back to.
    /// </summary>
    private static bool CanUndo(TimeLineEntry entry, OpenedRecord record, Viewer viewer) =>
        entry is { SupersededAt: null, Fact: not null, Said.SubmissionId: { } sent } && !record.ByGlass
        && record.Sent.GetValueOrDefault(sent) is { Typed: not null } by && viewer.MaySubmitFor(by.Site)
        && !record.TimeLine.Any(e => e.Closed?.SubmissionId == sent);

    private static string Which(ReportedScreening test) => string.Create(CultureInfo.InvariantCulture,
        $"{Words.Within(TimeLineWords.Ear(test.Ear))}, {test.PerformedAt:HH:mm}");

    private static string About(TimeLineEntry entry) => $"{entry.What}, {Words.Date(DateOnly.FromDateTime(entry.At))}";
}
