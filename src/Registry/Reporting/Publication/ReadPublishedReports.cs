using System.Text.Json;
using Microsoft.EntityFrameworkCore;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Measures;

namespace Registry.Reporting.Publication;

/// <summary>A published report with the counts of the whole.</summary>
public sealed record ShownPublication(PublishedReport Report, IReadOnlyList<PublishedLine> Whole);

/// <param name="Name">Null for a line today's definitions no longer have.</param>
public sealed record PublishedLine(string Code, string? Name, int Count);

/// <summary>Reads reports as they were published.</summary>
public sealed class ReadPublishedReports(RegistryDb db)
{
    private const int Most = 500;

    /// <summary>Newest first.</summary>
    public async Task<IReadOnlyList<PublishedReport>> AllAsync(CancellationToken ct) =>
        await db.PublishedReports.AsNoTracking().OrderByDescending(r => r.PublishedAt).Take(Most).ToListAsync(ct);

    /// <returns>Null when there is no such report.</returns>
    public async Task<ShownPublication?> OneAsync(Guid id, CancellationToken ct)
    {
        if (await db.PublishedReports.AsNoTracking().FirstOrDefaultAsync(r => r.Id == id, ct) is not { } report) return null;
        var counts = JsonSerializer.Deserialize<Dictionary<string, Dictionary<string, int>>>(report.Figures)![Tabulate.Whole];
        var lines = MeasureSet.Under(Policy.Default).Lines.ToList();
        return new(report, [.. counts.Select(c => (Count: c, At: lines.FindIndex(l => l.Code == c.Key))).OrderBy(c => c.At)
            .Select(c => new PublishedLine(c.Count.Key, c.At < 0 ? null : lines[c.At].Name, c.Count.Value))]);
    }
}
