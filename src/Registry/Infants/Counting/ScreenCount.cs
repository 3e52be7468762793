using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Infants.Counting;

/// <summary>The day a count belongs to: that of the test (of an infant: of its first attempt at the site), or that of the birth.</summary>
public enum CountedDay { Test, Birth }

/// <summary>How tests are grouped, by the name a URL has for it. <c>Week</c> is a site's days put together, and is not kept;
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

/// <summary>A column for each <see cref="ScreenFigure"/>, in its order.</summary>
public abstract class ScreenFigureColumns
{
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

/// <summary>
/// Counts of one site, group and day, of all changes that were folded (<see cref="FoldCounts"/>). The row without <see cref="ChangedOn"/>
/// is what is known now; those with it are what each day changed: what was known at the end of a day is what is known now, less what
/// changed after it.
/// </summary>
public sealed class ScreenCount : ScreenFigureColumns
{
    public CountedDay CountedBy { get; init; }
    public ScreenGrouping Grouping { get; init; }
    public SiteId SiteId { get; init; }
    public required string Unit { get; init; }
    public DateOnly Day { get; init; }
    public DateOnly? ChangedOn { get; init; }
}

/// <summary>How a day changed what one test adds to the counts; not in <see cref="ScreenCount"/> yet. Intake adds these, folding takes them
/// away, and whoever reads counts adds them up with the sums. A column for each <see cref="ScreenGrouping"/> that needs one.</summary>
public sealed class CountChange : ScreenFigureColumns
{
    public SiteId SiteId { get; init; }
    public DateOnly ChangedOn { get; init; }
    public DateOnly TestedOn { get; init; }
    public DateOnly BornOn { get; init; }
    public required string Instrument { get; init; }
    public required string Probe { get; init; }
    public required string Screener { get; init; }
    public required string Method { get; init; }
    public required string Age { get; init; }
    public required string Hour { get; init; }
    public required string Received { get; init; }
}

internal sealed class ConfigureScreenCount : IEntityTypeConfiguration<ScreenCount>
{
    public void Configure(EntityTypeBuilder<ScreenCount> builder)
    {
        builder.ToTable("screen_counts").HasNoKey();
        builder.HasIndex(c => new { c.CountedBy, c.Grouping, c.ChangedOn, c.SiteId, c.Day, c.Unit }, "ix_screen_counts_place")
            .IsUnique().AreNullsDistinct(false);
    }
}

internal sealed class ConfigureCountChange : IEntityTypeConfiguration<CountChange>
{
    public void Configure(EntityTypeBuilder<CountChange> builder) => builder.ToTable("count_changes").HasNoKey();
}

/// <summary>SQL words for groups and figures: the one place that says where a change counts.</summary>
public static class ScreenColumns
{
    public static readonly string[] Figures = [.. Enum.GetValues<ScreenFigure>().Select(Codes.Of)];

    /// <summary>How counts are kept; weeks are days put together.</summary>
    public static readonly ScreenGrouping[] Kept = [.. Enum.GetValues<ScreenGrouping>().Where(g => g != ScreenGrouping.Week)];

    /// <summary>The days each is kept by: how long results took is asked by day of test alone.</summary>
    public static CountedDay[] Days(ScreenGrouping grouping) =>
        grouping == ScreenGrouping.Received ? [CountedDay.Test] : [CountedDay.Test, CountedDay.Birth];

    /// <summary>The column of a change that holds its group.</summary>
    public static string Unit(ScreenGrouping grouping) =>
        grouping is ScreenGrouping.Site or ScreenGrouping.Week ? "''" : Codes.Of(grouping);

    public static string Day(CountedDay by) => by == CountedDay.Test ? "tested_on" : "born_on";

    /// <summary>An expression for every figure, in order.</summary>
    public static string Each(Func<string, string> expression, string between = ", ") =>
        string.Join(between, Figures.Select(expression));
}
