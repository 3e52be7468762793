using Microsoft.Extensions.DependencyInjection;
using Registry.Openings;
using Registry.Platform;
using Registry.Rules.Facts;
using Registry.Tests.Intake;

namespace Registry.Tests.Openings;

/// <summary>A clinic's calendar as a file: CSV, and iCalendar held against the recurrences that RFC 5545, section 3.8.5.3, gives with their
/// days. The program's today is 25 November 2026.</summary>
public sealed class ReadOpeningsTests(TestDatabase database)
{
    [Fact]
    public async Task Files_are_read_whole_or_not_at_all_and_nothing_but_times_is_taken()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var read = new ReadOpenings(bed.App.Services.GetRequiredService<ProgramClock>());
        Assert.Equal(
            [
                new(new(2026, 12, 1), new(10, 30), 60, 2, PathStep.Diagnosis), new(new(2026, 12, 2), new(9, 0), 30, 1, PathStep.Screening),
            ],
            read.Read("day,time,minutes,capacity,step\n2026-12-01,10:30,60,2,diagnosis\n2026-12-02,9:00,30,1,screening\n", 1,
                PathStep.Diagnosis, out var problem));
        Assert.Null(problem);
        foreach (var wrong in new[] { "day,time\nsoon,10:30\n", "day,time,minutes,capacity,step\n2026-12-01,10:30,60,2,surgery\n", "day,who\n1,2\n", "" })
        {
            Assert.Empty(read.Read(wrong, 1, PathStep.Diagnosis, out problem));
            Assert.NotNull(problem);
        }
    }

    /// <summary>RFC 5545, section 3.8.5.3: "Every other week on Monday, Wednesday, and Friday until ..." and "Weekly for 10 occurrences",
    /// with the year changed to one ahead of the program's day; 3.3.5: a floating time is meant as it stands, one in UTC is
    /// converted.</summary>
    [Fact]
    public async Task Repeated_events_give_the_days_of_the_standard()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var clock = bed.App.Services.GetRequiredService<ProgramClock>();
        var read = new ReadOpenings(clock);
        var weekly = read.Read(Calendar("DTSTART:20261201T090000\nDURATION:PT45M\nRRULE:FREQ=WEEKLY;COUNT=10\nEXDATE:20261215T090000"), 3,
            PathStep.Screening, out var problem);
        Assert.Null(problem);
        Assert.Equal(Enumerable.Range(0, 10).Where(week => week != 2).Select(week => new StatedOpening(
            new DateOnly(2026, 12, 1).AddDays(7 * week), new(9, 0), 45, 3, PathStep.Screening)), weekly);

        var three = read.Read(Calendar(
            "DTSTART:20261130T090000\nDTEND:20261130T100000\nRRULE:FREQ=WEEKLY;INTERVAL=2;UNTIL=20261224T000000Z;WKST=SU;BYDAY=MO,WE,FR"), 1,
            PathStep.Diagnosis, out _);
        Assert.Equal(["2026-11-30", "2026-12-02", "2026-12-04", "2026-12-14", "2026-12-16", "2026-12-18"],
            three.Select(o => o.OpensOn.ToString("yyyy-MM-dd", null)));

        var utc = Assert.Single(read.Read(Calendar("DTSTART:20261201T150000Z\nDTEND:20261201T160000Z"), 1, PathStep.Diagnosis, out _));
        var local = TimeZoneInfo.ConvertTimeFromUtc(new(2026, 12, 1, 15, 0, 0, DateTimeKind.Utc), clock.Zone);
        Assert.Equal((DateOnly.FromDateTime(local), TimeOnly.FromDateTime(local), 60), (utc.OpensOn, utc.StartsAt, utc.Minutes));
    }

    /// <summary>A rule without end, one of every second, one that never comes true, an event of a whole day, a calendar cut off: none keeps
    /// the program busy, and none is stated.</summary>
    [Theory]
    [InlineData("DTSTART:20261201T090000\nDURATION:PT5M\nRRULE:FREQ=SECONDLY")]
    [InlineData("DTSTART:20261201T090000\nDURATION:PT5M\nRRULE:FREQ=SECONDLY;BYMONTH=2;BYMONTHDAY=30")]
    [InlineData("DTSTART:19700101T090000\nDURATION:PT5M\nRRULE:FREQ=MINUTELY;BYMONTH=2;BYMONTHDAY=31;BYSECOND=59")]
    [InlineData("DTSTART;VALUE=DATE:20261201")]
    [InlineData("DTSTART:20200101T090000\nDURATION:PT1H")]
    [InlineData("DTSTART:nonsense\nRRULE:FREQ=NEVER")]
    public async Task A_calendar_that_means_harm_or_nothing_states_nothing(string lines)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var read = new ReadOpenings(bed.App.Services.GetRequiredService<ProgramClock>());
        var stated = await Task.Run(() => read.Read(Calendar(lines), 1, PathStep.Diagnosis, out _), IntakeBed.Ct)
            .WaitAsync(TimeSpan.FromMinutes(10), IntakeBed.Ct);
        Assert.True(stated.Count is 0 or > StateOpenings.Most);
    }

    private static string Calendar(string lines) =>
        $"BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:-//Lind//Calendar//EN\nBEGIN:VEVENT\nUID:1@lind.example\nDTSTAMP:20261101T000000Z\n{lines}\n"
            .Replace("\n", "\r\n", StringComparison.Ordinal)
        + "SUMMARY:Visit of Ada Marlow\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n";
}
