using NodaTime;
using Registry.Rules.Facts;
using Xunit;

namespace Registry.Rules.Tests;

/// <summary>Deadlines and ages against NodaTime (an independent calendar library), for every birth date of 30 years.</summary>
public class DateArithmeticTests
{
    private static readonly DateOnly First = new(2000, 1, 1);

    private static IEnumerable<(DateOnly Born, LocalDate Noda)> BirthDates()
    {
        for (var born = First; born < First.AddYears(30); born = born.AddDays(1))
            yield return (born, new LocalDate(born.Year, born.Month, born.Day));
    }

    [Fact]
    public void Deadlines_in_months_and_days()
    {
        foreach (var (born, noda) in BirthDates())
        {
            foreach (var months in new[] { 1, 2, 3, 4, 6, 9, 12, 36, 60 })
            {
                var boundary = noda.PlusMonths(months);
                Assert.Equal(boundary.ToDateOnly(), new Deadline(months, DeadlineUnit.Months).LastDay(born));
                Assert.Equal(boundary.PlusDays(-1).ToDateOnly(), new Deadline(months, DeadlineUnit.Months, Inclusive: false).LastDay(born));
            }

            foreach (var days in new[] { 7, 30, 31, 45, 91, 181 })
            {
                Assert.Equal(noda.PlusDays(days).ToDateOnly(), new Deadline(days, DeadlineUnit.Days).LastDay(born));
                Assert.Equal(noda.PlusDays(days - 1).ToDateOnly(), new Deadline(days, DeadlineUnit.Days, Inclusive: false).LastDay(born));
            }
        }
    }

    /// <summary>The three milestones as the status itself says them, under the inclusive and the strict boundary.</summary>
    [Fact]
    public void Deadlines_of_a_status()
    {
        foreach (var (born, noda) in BirthDates())
        {
            var facts = new InfantFacts { Birth = new(born, null) };
            var inclusive = EvaluateInfant.Evaluate(facts, Policy.Default, born);
            var strict = EvaluateInfant.Evaluate(facts, Policy.CdcStrict, born);
            Assert.Equal(noda.PlusMonths(1).ToDateOnly(), inclusive.Screened.DeadlineOn);
            Assert.Equal(noda.PlusMonths(3).ToDateOnly(), inclusive.Diagnosed.DeadlineOn);
            Assert.Equal(noda.PlusMonths(6).ToDateOnly(), inclusive.Enrolled.DeadlineOn);
            Assert.Equal(noda.PlusMonths(1).PlusDays(-1).ToDateOnly(), strict.Screened.DeadlineOn);
            Assert.Equal(noda.PlusMonths(1).PlusDays(1).ToDateOnly(), inclusive.NextChangeOn);
        }
    }

    [Fact]
    public void Ages_in_days_and_completed_months()
    {
        foreach (var (born, noda) in BirthDates())
        {
            for (var days = 0; days < 400; days += days is > 25 and < 35 or > 85 and < 95 ? 1 : 9)
            {
                var on = noda.PlusDays(days);
                Assert.Equal(days, Age.Days(born, on.ToDateOnly()));
                Assert.Equal(Period.DaysBetween(noda, on), Age.Days(born, on.ToDateOnly()));
                Assert.Equal((int)Period.Between(noda, on, PeriodUnits.Months).Months, Age.Months(born, on.ToDateOnly()));
            }
        }
    }

    [Fact]
    public void Ages_in_hours()
    {
        foreach (var (born, noda) in BirthDates().Where((_, i) => i % 7 == 0))
        {
            var time = new TimeOnly(born.Day % 24, 3 * born.Month);
            var at = born.AddDays(born.Day % 5).ToDateTime(new TimeOnly(12, 30));
            var expected = Period.Between(noda.At(LocalTime.FromTimeOnly(time)), LocalDateTime.FromDateTime(at),
                PeriodUnits.Minutes).Minutes / 60.0;
            Assert.Equal(expected, Age.Hours(new Birth(born, time), at, TimeZoneInfo.Utc));
        }

        Assert.Null(Age.Hours(new Birth(First, null), First.ToDateTime(default), TimeZoneInfo.Utc));
    }

    /// <summary>Every change of clocks of thirty years: the hours that passed, by NodaTime's own time zone database. An hour that comes
    /// twice
    /// is its second coming; one that never comes is not asked about (the intake refuses it).</summary>
    [Theory]
    [InlineData("America/New_York")]
    [InlineData("Europe/Berlin")]
    [InlineData("Australia/Sydney")]
    public void Hours_over_every_change_of_clocks(string id)
    {
        var (zone, noda) = (TimeZoneInfo.FindSystemTimeZoneById(id), DateTimeZoneProviders.Tzdb[id]);
        var changes = noda.GetZoneIntervals(Instant.FromUtc(2000, 1, 1, 0, 0), Instant.FromUtc(2030, 1, 1, 0, 0)).Skip(1).ToList();
        Assert.Equal(60, changes.Count);
        var differing = 0;
        foreach (var at in changes.Select(c => c.IsoLocalStart))
        {
            for (var before = 0; before < 27 * 60; before += 37)
            {
                for (var after = 0; after < 30 * 60; after += 53)
                {
                    var (from, to) = (at.PlusMinutes(-before), at.PlusMinutes(after - 60));
                    if (noda.MapLocal(from).Count == 0 || noda.MapLocal(to).Count == 0) continue;
                    var expected = (noda.MapLocal(to).Last() - noda.MapLocal(from).Last()).TotalHours;
                    var actual = Age.Hours(new Birth(from.Date.ToDateOnly(), from.TimeOfDay.ToTimeOnly()),
                        to.ToDateTimeUnspecified(), zone);
                    Assert.Equal(expected, actual!.Value, 9);
                    if (expected != Period.Between(from, to, PeriodUnits.Minutes).Minutes / 60.0) differing++;
                }
            }
        }

        Assert.True(differing > 40_000, $"{differing}");
    }
}
