using Registry.Facts;
using Registry.Records;

namespace Registry.Infants.Record;

/// <summary>A line of an infant's story: something that was reported, the tests of both ears in one session, or a letter.</summary>
/// <param name="Entries">What was reported; none for a letter.</param>
public sealed record StoryLine(DateTime At, bool HasTime, string What, string Detail, IReadOnlyList<TimeLineEntry> Entries)
{
    public bool IsSuperseded => Entries.Any(e => e.SupersededAt is not null);
}

/// <summary>Lines another slice has to tell of an infant, of what it knew at a moment; who asks may see the infant.</summary>
public sealed record StoryPart(Func<InfantId, DateTimeOffset, CancellationToken, Task<IReadOnlyList<StoryLine>>> ReadAsync);

/// <summary>Tells what was reported as a person would: tests of a session together, latest first.</summary>
public static class TellStory
{
    /// <param name="timeLine">Everything reported.</param>
    /// <param name="others">What other slices have to tell.</param>
    /// <param name="session">How long a session takes.</param>
    public static IReadOnlyList<StoryLine> Of(
        IEnumerable<TimeLineEntry> timeLine, IEnumerable<StoryLine> others, TimeSpan session)
    {
        var facts = timeLine.Where(e => e.Fact is not null).ToList();
        var tests = facts.Where(e => e is { Fact: ReportedScreening, SupersededAt: null }).ToList();
        return [.. facts.Except(tests).Select(e => new StoryLine(e.At, e.HasTime, e.What, e.Detail, [e]))
            .Concat(Sessions(tests, session).Select(OfSession)).Concat(others)
            .OrderByDescending(l => l.At).ThenByDescending(l => l.Entries.Count == 0 ? default : l.Entries.Max(e => e.Said.RecordedAt))
            .ThenBy(l => l.What, StringComparer.Ordinal)];
    }

    private static IEnumerable<List<TimeLineEntry>> Sessions(IEnumerable<TimeLineEntry> tests, TimeSpan session)
    {
        foreach (var site in tests.GroupBy(e => e.Said.SiteId))
        {
            List<TimeLineEntry> together = [];
            foreach (var test in site.OrderBy(e => e.At).ThenBy(e => ((ReportedScreening)e.Fact!).Ear))
            {
                if (together.Count > 0 && test.At - together[0].At > session)
                {
                    yield return together;
                    together = [];
                }

                together.Add(test);
            }

            if (together.Count > 0) yield return together;
        }
    }

    private static StoryLine OfSession(List<TimeLineEntry> tests)
    {
        var details = tests.Select(t => t.Detail).Distinct().ToList();
        var told = details.Count == 1 ? details[0]
            : string.Join("; ", tests.Select(t => $"{TimeLineWords.Ear(((ReportedScreening)t.Fact!).Ear)}: {t.Detail}").Distinct());
        return new(tests[0].At, tests[0].HasTime, TimeLineWords.Session(tests.Select(t => (ReportedScreening)t.Fact!)), told, tests);
    }
}
