using System.Globalization;
using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Infants.Counting;

/// <summary>The day a count belongs to: that of the test (of an infant: of its first attempt at the site), or that of the birth.</summary>
public enum CountedDay { Test, Birth }

/// <summary>What the day of a sum is: that of the test or of the birth; or the first of its month, all of whose days are in it: a year is
/// read from a dozen months and the days around them (<see cref="WholeMonths"/>).</summary>
public enum SumDay { Test, Birth, TestMonth, BirthMonth }

/// <summary>How tests are grouped, by the name a URL has for it. <c>Week</c> is a site's days of a week, and is not kept;
/// <c>Received</c> is a day of receipt with its instrument; <c>Arrival</c> the days from test to receipt.</summary>
public enum ScreenGrouping { Site, Instrument, Probe, Screener, Method, Age, Hour, Received, Arrival, Week }

/// <summary>
/// What is counted of a group; each is a column. Tests are counted in the group they belong to, infants in that of their first attempt at
/// the site, sessions in that of the infant's first attempt anywhere.
/// </summary>
public enum ScreenFigure
{
    /// <summary>Tests of one ear; of them without a valid result, by reason; refers.</summary>
    Tests, NoSeal, Noise, OtherReason, Refers,

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
/// Counts of one site, group and day or month, of all changes that were folded (<see cref="FoldCounts"/>). The row without
/// <see cref="ChangedOn"/> is what is known now; those with it are what each day changed: what was known at the end of a day is what is
/// known now, less what changed after it.
/// </summary>
public sealed class ScreenCount : ScreenFigureColumns
{
    public SumDay CountedBy { get; init; }
    public ScreenGrouping Grouping { get; init; }
    public SiteId SiteId { get; init; }
    public required string Unit { get; init; }
    public DateOnly Day { get; init; }
    public DateOnly? ChangedOn { get; init; }
}

/// <summary>How a day changed what one test adds to the counts; not in <see cref="ScreenCount"/> yet. Intake adds these, folding takes them
/// away, and whoever reads counts reads both together (the view <c>all_screen_counts</c>). A column for each <see cref="ScreenGrouping"/>
/// that needs one.</summary>
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
        grouping is ScreenGrouping.Received or ScreenGrouping.Arrival ? [CountedDay.Test] : [CountedDay.Test, CountedDay.Birth];

    /// <summary>How sums of days are kept, and how those of months; null: they are not.</summary>
    public static (SumDay ByDay, SumDay? ByMonth) Sums(ScreenGrouping grouping, CountedDay by) => (
        by == CountedDay.Test ? SumDay.Test : SumDay.Birth,
        grouping == ScreenGrouping.Received ? null : by == CountedDay.Test ? SumDay.TestMonth : SumDay.BirthMonth);

    /// <summary>The column of a change that holds its group, or what is made of its columns.</summary>
    public static string Unit(ScreenGrouping grouping) => grouping switch
    {
        ScreenGrouping.Site or ScreenGrouping.Week => "''",
        ScreenGrouping.Arrival => $"to_char(least({LongestArrival}, greatest(0, left(received, 10)::date - tested_on)), 'FM000')",
        _ => Codes.Of(grouping),
    };

    /// <summary>The same of one change; results that were more days on their way are counted as so many, and clocks differ.</summary>
    public static string Arrival(DateOnly tested, DateOnly received) =>
        Math.Clamp(received.DayNumber - tested.DayNumber, 0, LongestArrival).ToString("000", CultureInfo.InvariantCulture);

    private const int LongestArrival = 999;

    public static string Day(CountedDay by) => by == CountedDay.Test ? "tested_on" : "born_on";

    /// <summary>An expression for every figure, in order.</summary>
    public static string Each(Func<string, string> expression, string between = ", ") =>
        string.Join(between, Figures.Select(expression));
}
