using System.Text.Json;
using Microsoft.EntityFrameworkCore;
using Registry.Platform;
using Registry.Records;
using Registry.Reporting.Measures;
using Registry.Rules.Facts;
using Registry.Rules.Measures;

namespace Registry.Reporting.Publication;

/// <summary>What running a published report again gave.</summary>
/// <param name="Differences">Lines whose count is no longer what was published; empty when every figure is the same.</param>
/// <param name="Why">What changed since, in words; empty when nothing did.</param>
public sealed record Rerun(PublishedReport Report, int LinesCompared, IReadOnlyList<Difference> Differences, IReadOnlyList<string> Why)
{
    public bool Same => Differences.Count == 0;
}

/// <summary>A count now and as published; null where the line or group did not exist.</summary>
public sealed record Difference(string Group, string Line, int? Published, int? Now);

/// <summary>Publishes reports and runs them again: the definition and every count are kept, so that years later the same
/// question gives the same number, or the difference is shown with its cause.</summary>
public sealed class PublishReport(RegistryDb db, ComputeMeasures measures, ProgramClock clock)
{
    public const int LongestTitle = 200;

    /// <summary>Computes and keeps a report. It cannot be changed afterwards.</summary>
    public async Task<PublishedReport> PublishAsync(MeasureRequest request, string title, Guid person, CancellationToken ct)
    {
        var measured = await measures.RunAsync(request, forRelease: false, ct);
        var report = new PublishedReport
        {
            Id = Guid.CreateVersion7(),
            Title = title,
            PublishedAt = clock.Now,
            PublishedBy = person,
            PeriodStart = request.From,
            PeriodEnd = request.To,
            AsOf = request.AsOf,
            KnownAt = request.KnownAt.ToUniversalTime(),
            Breakdown = Codes.Of(request.Breakdown),
            VitalBirths = request.VitalBirths,
            PolicyVersion = measured.Policy.Version,
            MeasureSetVersion = MeasureSet.Version,
            ProgramVersion = MeasureReport.ProgramVersion,
            Fingerprint = measured.Fingerprint,
            Figures = JsonSerializer.Serialize(Counts(measured.Table)),
        };
        db.PublishedReports.Add(report);
        await db.SaveChangesAsync(ct);
        return report;
    }

    /// <summary>Asks the same question again: same births, as-of date, known-at moment, policy version.</summary>
    /// <returns>Null when there is no such report.</returns>
    public async Task<Rerun?> RerunAsync(Guid id, CancellationToken ct)
    {
        if (await db.PublishedReports.AsNoTracking().FirstOrDefaultAsync(r => r.Id == id, ct) is not { } report) return null;
        var measured = await measures.RunAsync(Request(report), forRelease: false, ct, report.PolicyVersion);
        var (before, now) = (JsonSerializer.Deserialize<Dictionary<string, Dictionary<string, int>>>(report.Figures)!,
            Counts(measured.Table));
        var differences = new List<Difference>();
        var compared = 0;
        foreach (var group in before.Keys.Union(now.Keys))
        {
            var (old, current) = (before.GetValueOrDefault(group) ?? [], now.GetValueOrDefault(group) ?? []);
            foreach (var line in old.Keys.Union(current.Keys))
            {
                compared++;
                int? was = old.TryGetValue(line, out var o) ? o : null, isNow = current.TryGetValue(line, out var c) ? c : null;
                if (was != isNow) differences.Add(new(group, line, was, isNow));
            }
        }

        return new(report, compared, differences, differences.Count == 0 ? [] : Why(report, measured));
    }

    internal static MeasureRequest Request(PublishedReport report) => new(
        report.PeriodStart, report.PeriodEnd, report.AsOf, report.KnownAt, Codes.Parse<Breakdown>(report.Breakdown), report.VitalBirths);

    /// <summary>The facts, the definitions and the program are the only things a figure depends on beside the question.</summary>
    private static List<string> Why(PublishedReport report, Measured measured)
    {
        var why = new List<string>();
        if (report.Fingerprint != measured.Fingerprint)
            why.Add("The facts known at that moment are no longer the same: a fact was un-superseded, or records were merged or "
                + "separated, after publication.");
        if (report.MeasureSetVersion != MeasureSet.Version)
            why.Add($"The definitions of the measures changed from {report.MeasureSetVersion} to {MeasureSet.Version}.");
        if (report.ProgramVersion != MeasureReport.ProgramVersion)
            why.Add($"The program changed from version {report.ProgramVersion} to {MeasureReport.ProgramVersion}.");
        if (why.Count == 0)
            why.Add("Facts, policy, definitions and program version are the same: the rules of this build differ without a new version. "
                + "Report this as a fault.");
        return why;
    }

    private static Dictionary<string, Dictionary<string, int>> Counts(MeasureTable table) =>
        table.Groups.Prepend(table.Whole).ToDictionary(
            g => g.Name,
            g => table.Set.Lines.Select((line, at) => (line.Code, Count: g.Counts[at])).ToDictionary(l => l.Code, l => l.Count));
}
