using System.Text.Json;
using System.Text.Json.Serialization;
using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>
/// What the nights of a quarter are compared with (<see cref="WatchPlan"/>): the case mix of each measure, how much ordinary units differ,
/// and every unit's thresholds. Made once, kept as it was made, so that a figure can be computed again.
/// </summary>
public sealed class QualityPlan
{
    public Guid Id { get; init; }

    /// <summary>The first day that is watched with it: it was fitted on the year before.</summary>
    public DateOnly WatchedFrom { get; init; }
    public required string PolicyVersion { get; init; }
    public DateTimeOffset MadeAt { get; init; }

    /// <summary>Infants first tested in that year, as known when it was made.</summary>
    public int Infants { get; init; }
    public required string Document { get; init; }

    private static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web) { Converters = { new JsonStringEnumConverter() } };

    private sealed record Deviation(QualityUnitKind Kind, SessionMeasure Measure, double LogOdds);

    /// <summary>Null: not charted.</summary>
    private sealed record Limits(QualityUnitKind Kind, string Site, string Code, double?[] Values);

    private sealed record Stored(CaseMixModel[] Models, Deviation[] Tolerance, Limits[] Thresholds);

    /// <summary>Numbers are written so that they are read as the same.</summary>
    public static string Write(WatchPlan plan) => JsonSerializer.Serialize(new Stored(
        [.. plan.Models.Values],
        [.. plan.Tolerance.Select(t => new Deviation(t.Key.Kind, t.Key.Measure, t.Value))],
        [.. plan.Thresholds.Select(t => new Limits(t.Key.Kind, t.Key.Site, t.Key.Code,
            [.. t.Value.Select(v => double.IsNaN(v) ? (double?)null : v)]))]), Json);

    public WatchPlan Read()
    {
        var stored = JsonSerializer.Deserialize<Stored>(Document, Json)!;
        return new(
            stored.Models.ToDictionary(m => m.Measure),
            stored.Tolerance.ToDictionary(t => (t.Kind, t.Measure), t => t.LogOdds),
            stored.Thresholds.ToDictionary(
                t => new QualityUnit(t.Kind, t.Site, t.Code), t => (IReadOnlyList<double>)[.. t.Values.Select(v => v ?? double.NaN)]));
    }
}

internal sealed class ConfigureQualityPlan : IEntityTypeConfiguration<QualityPlan>
{
    public void Configure(EntityTypeBuilder<QualityPlan> builder)
    {
        builder.ToTable("quality_plans");
        builder.HasIndex(p => new { p.WatchedFrom, p.PolicyVersion, p.MadeAt });
        builder.Property(p => p.Document).HasColumnType("jsonb");
    }
}
