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
/// <param name="Why">What changed since; empty when every figure is the same.</param>
public sealed record Rerun(
    PublishedReport Report, int LinesCompared, IReadOnlyList<Difference> Differences, IReadOnlyList<ChangedSince> Why)
{
    public bool Same => Differences.Count == 0;
}

/// <summary>What a figure depends on beside the question. <see cref="RulesOnly"/>: none of it changed, so the rules of this build differ
/// without a new version.</summary>
public enum ChangedSince { Facts, Definitions, Program, RulesOnly }

public enum PublishRefusal { Question, Title }

/// <summary>A count now and as published; null where the line or group did not exist.</summary>
public sealed record Difference(string Group, string Line, int? Published, int? Now);

/// <summary>Publishes reports and runs them again: the definition and every count are kept, so that years later the same
/// question gives the same number, or the difference is shown with its cause.</summary>
public sealed class PublishReport(RegistryDb db, ComputeMeasures measures, ProgramClock clock)
{
    public const int LongestTitle = 200;

    /// <summary>Publishes the report a query asks for.</summary>
    public async Task<(PublishedReport? Report, PublishRefusal? Refusal)> FromQueryAsync(
        IQueryCollection query, string? title, Guid person, CancellationToken ct)
    {
        var (request, _) = MeasureRequest.Read(query, clock);
        if (request is null) return (null, PublishRefusal.Question);
        return title?.Trim() is { Length: > 0 and <= LongestTitle } given
            ? (await PublishAsync(request, given, person, ct), null) : (null, PublishRefusal.Title);
    }

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

    private static MeasureRequest Request(PublishedReport report) => new(
        report.PeriodStart, report.PeriodEnd, report.AsOf, report.KnownAt, Codes.Parse<Breakdown>(report.Breakdown), report.VitalBirths);

    private static List<ChangedSince> Why(PublishedReport report, Measured measured)
    {
        var why = new List<ChangedSince>();
        if (report.Fingerprint != measured.Fingerprint) why.Add(ChangedSince.Facts);
        if (report.MeasureSetVersion != MeasureSet.Version) why.Add(ChangedSince.Definitions);
        if (report.ProgramVersion != MeasureReport.ProgramVersion) why.Add(ChangedSince.Program);
        return why.Count > 0 ? why : [ChangedSince.RulesOnly];
    }

    private static Dictionary<string, Dictionary<string, int>> Counts(MeasureTable table) =>
        table.Groups.Prepend(table.Whole).ToDictionary(
            g => g.Name,
            g => table.Set.Lines.Select((line, at) => (line.Code, Count: g.Counts[at])).ToDictionary(l => l.Code, l => l.Count));
}
