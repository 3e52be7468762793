using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Infants.Counting;

/// <summary>The day a count belongs to: that of the test (of an infant: of its first attempt at the site), or that of the birth.</summary>
public enum CountedDay { Test, Birth }

/// <summary>How tests are grouped, by the name a URL has for it. <c>Week</c> is a site's days put together, and is not stored;
/// <c>Received</c> is a day of receipt with its instrument.</summary>
public enum ScreenGrouping { Site, Instrument, Probe, Screener, Method, Age, Hour, Received, Week }

/// <summary>
/// What is counted of a group; each is a column. Tests are counted in the group they belong to, infants in that of their first attempt at
/// the site, sessions in that of the infant's first attempt anywhere.
/// </summary>
public enum ScreenFigure
{
    /// <summary>Tests of one ear; of them without a valid result, by reason; refers; received late.</summary>
    Tests, NoSeal, Noise, OtherReason, Refers, Late,

    /// <summary>Infants tried, and their ears.</summary>
    Infants, Ears,

    /// <summary>Infants with a valid result, in both ears; whose last valid result was a refer in an ear, in both.</summary>
    Concluded, BothEars, Referred, ReferredBoth,

    /// <summary>Infants whose age at the first attempt is known; of them early for the method, within 24 hours.</summary>
    WithAge, Early, FirstDay,

    /// <summary>First sessions with a valid result, in both ears; whose first valid result was a refer in an ear, in both.</summary>
    Sessions, SessionBothEars, SessionReferred, SessionReferredBoth,
}

/// <summary>
/// Counts of one site, group and day; several rows of a group add up. Rows without <see cref="ChangedOn"/> add up to what is known now;
/// those with it to what each day changed: what was known at the end of a day is what is known now, less what changed after it.
/// </summary>
public sealed class ScreenCount
{
    public long Id { get; init; }
    public CountedDay CountedBy { get; init; }
    public ScreenGrouping Grouping { get; init; }
    public SiteId SiteId { get; init; }
    public required string Unit { get; init; }
    public DateOnly Day { get; init; }
    public DateOnly? ChangedOn { get; init; }

    /// <summary>In the order of <see cref="ScreenFigure"/>.</summary>
    public int Tests { get; init; }
    public int NoSeal { get; init; }
    public int Noise { get; init; }
    public int OtherReason { get; init; }
    public int Refers { get; init; }
    public int Late { get; init; }
    public int Infants { get; init; }
    public int Ears { get; init; }
    public int Concluded { get; init; }
    public int BothEars { get; init; }
    public int Referred { get; init; }
    public int ReferredBoth { get; init; }
    public int WithAge { get; init; }
    public int Early { get; init; }
    public int FirstDay { get; init; }
    public int Sessions { get; init; }
    public int SessionBothEars { get; init; }
    public int SessionReferred { get; init; }
    public int SessionReferredBoth { get; init; }
}

internal sealed class ConfigureScreenCount : IEntityTypeConfiguration<ScreenCount>
{
    public void Configure(EntityTypeBuilder<ScreenCount> builder)
    {
        builder.ToTable("screen_counts");
        builder.HasIndex(c => new { c.CountedBy, c.Grouping, c.SiteId, c.Day }, "ix_screen_counts_now").HasFilter("changed_on is null");
        builder.HasIndex(c => new { c.CountedBy, c.Grouping, c.ChangedOn }, "ix_screen_counts_changed")
            .HasFilter("changed_on is not null");
        builder.HasOne<Site>().WithMany().HasForeignKey(c => c.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

/// <summary>SQL words for every figure.</summary>
public static class ScreenFigures
{
    public static readonly string[] Columns = [.. Enum.GetValues<ScreenFigure>().Select(Codes.Of)];

    /// <summary>The sum of every figure, in order; <paramref name="sign"/> is a column that says whether a row adds or takes
    /// away.</summary>
    public static string Sums(string sign) => string.Join(", ", Columns.Select(c => $"sum({c} * {sign})::int as {c}"));
}
