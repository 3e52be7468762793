using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>
/// A site, instrument, probe or screener beside the others of its kind over the year that ends on a night, in one measure of first
/// sessions (<see cref="UnitComparison"/>, which says what each figure is). Only the last night's are kept.
/// </summary>
public sealed class ComparedUnit
{
    public SiteId SiteId { get; init; }
    public QualityUnitKind Kind { get; init; }

    /// <summary>Its serial or name; the site's code for a site.</summary>
    public required string Name { get; set; }
    public SessionMeasure Measure { get; init; }

    /// <summary>The night, which is the last day compared; the first day; the policy in force.</summary>
    public DateOnly AsOf { get; init; }
    public DateOnly FirstDay { get; init; }
    public required string PolicyVersion { get; init; }

    /// <summary>The case mix: its version, and the days it was fitted to.</summary>
    public int ModelVersion { get; init; }
    public DateOnly ModelFrom { get; init; }
    public DateOnly ModelThrough { get; init; }

    public int Trials { get; init; }
    public int Observed { get; init; }
    public double Expected { get; init; }
    public double? Standardized { get; init; }

    /// <summary>Mid-P of so many or more.</summary>
    public double TooMany { get; init; }
    public double AdjustedP { get; init; }
    public double Multiplicative { get; init; }
    public double Additive { get; init; }

    /// <summary>The rate that is believed, and between which rates; the limits and the chance of a rate far above are null where units of
    /// the kind do not differ measurably.</summary>
    public double Shrunken { get; init; }
    public double? ShrunkenLeast { get; init; }
    public double? ShrunkenMost { get; init; }
    public double? FarAbove { get; init; }

    /// <summary>Places among its like, 1 the highest rate; null where they are not ranked.</summary>
    public int? RankFirst { get; init; }
    public int? RankLast { get; init; }

    /// <summary>How many of its kind were compared; their infants, and those with the outcome; how far they differ beyond chance.</summary>
    public int Units { get; init; }
    public int AllTrials { get; init; }
    public int AllObserved { get; init; }
    public double Phi { get; init; }
    public double TauSquared { get; init; }

    /// <summary>The same with another name: that of a screener where it may not be said.</summary>
    public ComparedUnit Under(string name)
    {
        var same = (ComparedUnit)MemberwiseClone();
        same.Name = name;
        return same;
    }

    public double? Ratio => Expected > 0 ? Observed / Expected : null;

    /// <summary>Limits of the believed rate, in multiples of the expected one.</summary>
    public Interval? Likely => (ShrunkenLeast, ShrunkenMost) is ({ } least, { } most) && Expected > 0
        ? new(least * Trials / Expected, most * Trials / Expected) : null;

    /// <summary>1: more than chance and ordinary differences explain; −1: fewer.</summary>
    public int Beyond => CompareUnits.Beyond(AdjustedP, Additive);

    public Proportion All => new(AllObserved, AllTrials);

    public static ComparedUnit Of(
        ComparedKind kind, UnitComparison unit, SiteId site, DateOnly from, DateOnly asOf, string policy) => new()
        {
            SiteId = site,
            Kind = kind.Kind,
            Name = unit.Unit.Code,
            Measure = kind.Model.Measure,
            AsOf = asOf,
            FirstDay = from,
            PolicyVersion = policy,
            ModelVersion = kind.Model.Version,
            ModelFrom = kind.Model.From,
            ModelThrough = kind.Model.Through,
            Trials = unit.Trials,
            Observed = unit.Observed,
            Expected = unit.Expected,
            Standardized = unit.Standardized,
            TooMany = unit.TooMany,
            AdjustedP = unit.AdjustedP,
            Multiplicative = unit.Multiplicative,
            Additive = unit.Additive,
            Shrunken = unit.Shrunken.Rate,
            ShrunkenLeast = unit.Shrunken.Limits?.Lower,
            ShrunkenMost = unit.Shrunken.Limits?.Upper,
            FarAbove = unit.Shrunken.FarAbove,
            RankFirst = unit.Rank?.Lowest,
            RankLast = unit.Rank?.Highest,
            Units = kind.Units.Count,
            AllTrials = kind.Trials,
            AllObserved = kind.Observed,
            Phi = kind.Spread.Phi,
            TauSquared = kind.Spread.TauSquared,
        };
}

internal sealed class ConfigureComparedUnit : IEntityTypeConfiguration<ComparedUnit>
{
    public void Configure(EntityTypeBuilder<ComparedUnit> builder)
    {
        builder.ToTable("compared_units");
        builder.HasKey(u => new { u.SiteId, u.Kind, u.Measure, u.Name });
        builder.HasIndex(u => new { u.Kind, u.Measure });
        builder.HasOne<Site>().WithMany().HasForeignKey(u => u.SiteId).OnDelete(DeleteBehavior.Restrict);
        builder.Ignore(u => u.Ratio);
        builder.Ignore(u => u.Likely);
        builder.Ignore(u => u.Beyond);
        builder.Ignore(u => u.All);
    }
}

public static class ComparedUnitSet
{
    extension(RegistryDb db)
    {
        public DbSet<ComparedUnit> ComparedUnits => db.Set<ComparedUnit>();
    }
}
