using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Infants.Counting;

/// <summary>
/// One test of one ear tried during a birth admission, as it counts and over the days on which it was known so: derived from the facts,
/// and derived again whenever they change. What a figure counts and what its list shows are the same rows.
/// </summary>
public sealed record CountedTest
{
    public required Guid ScreeningId { get; init; }
    public required InfantId InfantId { get; init; }
    public required SiteId SiteId { get; init; }

    /// <summary>Known so at the end of this day, and of every day before <see cref="KnownUntil"/>; null: it still is.</summary>
    public required DateOnly KnownFrom { get; init; }
    public required DateOnly? KnownUntil { get; init; }

    public required DateOnly BornOn { get; init; }

    /// <summary>The day of the infant's first attempt at this site: the day on which the infant counts.</summary>
    public required DateOnly FirstOn { get; init; }
    public required Ear Ear { get; init; }
    public required ScreeningMethod Method { get; init; }
    public required ScreeningOutcome Outcome { get; init; }
    public required ScreeningReason Reason { get; init; }
    public required DateTime PerformedAt { get; init; }
    public required string? Instrument { get; init; }
    public required string? Probe { get; init; }
    public required string? Screener { get; init; }
    public required double? AgeHours { get; init; }

    /// <summary>Before the policy's earliest age for the method; null when the age is not known.</summary>
    public required bool? Early { get; init; }
    public required bool InNicu { get; init; }
    public required int? GestationWeeks { get; init; }

    /// <summary>When word of the test first came, local time.</summary>
    public required DateTime ReceivedAt { get; init; }

    /// <summary>The infant's first attempt at this site.</summary>
    public required bool IsFirst { get; init; }

    /// <summary>The ear's last valid result at this site.</summary>
    public required bool Decides { get; init; }

    /// <summary>Of the infant's first session, wherever that was; and in it the ear's first valid result.</summary>
    public required bool InFirstSession { get; init; }
    public required bool IsFirstValid { get; init; }

    public DateOnly TestedOn => DateOnly.FromDateTime(PerformedAt);
}

/// <summary>No foreign keys: it is written from facts that have them, which are never deleted, in the transaction that wrote
/// these.</summary>
internal sealed class ConfigureCountedTest : IEntityTypeConfiguration<CountedTest>
{
    public void Configure(EntityTypeBuilder<CountedTest> builder)
    {
        builder.ToTable("counted_tests");
        builder.HasKey(t => new { t.ScreeningId, t.KnownFrom });
        builder.Ignore(t => t.TestedOn);
        builder.HasIndex(t => t.InfantId);
        builder.HasIndex(t => new { t.SiteId, t.PerformedAt });
        builder.HasIndex(t => new { t.SiteId, t.BornOn });
    }
}
