using System.Globalization;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Registry.Infants.Counting;
using Registry.PolicyVersions;
using Registry.Rules.Facts;
using Registry.SiteQuality;
using Registry.Tests.Architecture;
using Registry.Tests.Intake;

namespace Registry.Tests.Infants.Counting;

/// <summary>
/// What is counted of tests is what the facts say, on every day, whatever was sent again, corrected, taken back or came late: the counts
/// that submissions keep current, the counts of all facts at once, and a twin in SQL (<c>CountsFromFacts.sql</c>) agree to the last digit.
/// </summary>
public sealed class CountScreeningTests(TestDatabase database)
{
    private static readonly DateOnly First = new(2026, 10, 1);

    private static DateOnly[] Days(IntakeBed bed) => [.. Enumerable.Range(0, 12).Select(i => First.AddDays(i * 5)), bed.App.Today];

    [Theory]
    [InlineData(1), InlineData(2), InlineData(3), InlineData(4)]
    public async Task After_any_history_every_day_counts_what_the_facts_say(int seed)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await new History(seed, bed).SendAsync();
        await AgreeAsync(bed, Days(bed));
        await StandsAsync(bed);
    }

    [Fact]
    public async Task What_is_read_is_the_same_before_halfway_and_after_folding()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await new History(5, bed).SendAsync();
        var before = await ReadAsync(bed);
        var changes = int.Parse((await bed.ListAsync("select count(*) from count_changes"))[0], CultureInfo.InvariantCulture);
        Assert.True(changes > 100, $"{changes} changes show little.");
        Assert.Equal(changes / 2, await FoldAsync(bed, changes / 2));
        Assert.Equal(before, await ReadAsync(bed));
        Assert.Equal(changes - (changes / 2), await FoldAsync(bed, changes));
        Assert.Equal(before, await ReadAsync(bed));
        Assert.Equal(0, await FoldAsync(bed, changes));
    }

    [Theory]
    [InlineData("2026-10-01", "2026-10-31"), InlineData("2026-10-01", "2026-11-25"), InlineData("2026-10-12", "2026-10-20")]
    [InlineData("2026-09-30", "2026-11-01"), InlineData("2026-10-07", "2026-11-30"), InlineData("0001-01-01", "9999-12-31")]
    [InlineData("2026-10-31", "2026-10-31"), InlineData("0001-01-01", "0001-01-05")]
    public async Task Days_put_together_are_the_sum_of_each_whether_months_are_read_or_not(string from, string to)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await new History(7, bed).SendAsync();
        await FoldAsync(bed, 150); // some are in the sums, some are not
        var count = bed.App.Services.GetRequiredService<CountScreens>();
        var period = new Period(DateOnly.Parse(from, CultureInfo.InvariantCulture), DateOnly.Parse(to, CultureInfo.InvariantCulture));
        var policy = await bed.App.Services.GetRequiredService<PolicyStore>().InForceAsync(bed.App.Today, IntakeBed.Ct);
        foreach (var day in new DateOnly?[] { null, new(2026, 10, 20), new(2026, 11, 3) })
        {
            foreach (var (grouping, by) in ScreenColumns.Kept.SelectMany(g => ScreenColumns.Days(g).Select(by => (g, by))))
            {
                var asked = new ScreensAsked(period, by, null, day, policy);
                var days = (await count.ByDayAsync(grouping, asked, IntakeBed.Ct)).GroupBy(c => (c.Counts.SiteId, c.Counts.Unit))
                    .Select(g => ScreenCounts.Sum(g.Key.SiteId, g.Key.Unit, g.Select(c => c.Counts)));
                Assert.Equal(Lines(days), Lines(await count.ByAsync(grouping, asked, IntakeBed.Ct)));
            }
        }

        static IEnumerable<string> Lines(IEnumerable<ScreenCounts> counts) => counts.Where(c => c.Figures.Any(f => f != 0))
            .Select(c => $"{c.SiteId.Value} {c.Unit} {string.Join(' ', c.Figures)}").Order(StringComparer.Ordinal);
    }

    [Fact]
    public async Task Several_fold_at_once_while_submissions_come_and_nothing_is_counted_twice_or_lost()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var over = new CancellationTokenSource();
        var folding = Enumerable.Range(0, 3).Select(async _ =>
        {
            long folded = 0;
            while (!over.IsCancellationRequested) folded += await FoldAsync(bed, 5);
            return folded;
        }).ToList();
        await new History(6, bed).SendAsync();
        await over.CancelAsync();
        Assert.True((await Task.WhenAll(folding)).Sum() > 50, "Hardly anything was folded meanwhile.");
        await AgreeAsync(bed, Days(bed));
        await StandsAsync(bed);
    }

    [Fact]
    public async Task An_invented_region_counts_what_its_facts_say_and_agrees_with_itself_on_every_grouping()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        await AgreeAsync(bed, new[] { 0, 1, 9, 60, 200 }.Select(d => bed.App.Today.AddDays(-d)));
        await StandsAsync(bed);

        // Every way to group puts the same tests, infants and sessions apart.
        var sums = await bed.ListAsync($"select distinct concat_ws(' ', {ScreenColumns.Each(c => "c." + c)}) from (select grouping, "
            + $"counted_by, {ScreenColumns.Each(c => $"sum({c}) as {c}")} from screen_counts where changed_on is null group by 1, 2) c");
        Assert.Single(sums);
    }

    private static async Task AgreeAsync(IntakeBed bed, IEnumerable<DateOnly> days)
    {
        foreach (var day in days)
            foreach (var grouping in new[] { ScreenGrouping.Instrument, ScreenGrouping.Arrival })
                Assert.Equal(await FromFactsAsync(bed, day, grouping), await CountedAsync(bed, day, grouping));
    }

    /// <summary>Nothing differs when all is counted anew, be it folded or not, and what is gone comes back.</summary>
    private static async Task StandsAsync(IntakeBed bed)
    {
        var keep = bed.App.Services.GetRequiredService<KeepCountsCurrent>();
        Assert.Equal("0 infants and 0 sums differed", await keep.RecountAsync(IntakeBed.Ct));
        await keep.FoldAsync(IntakeBed.Ct);
        Assert.Equal("0", (await bed.ListAsync("select count(*) from count_changes"))[0]);
        var (tests, counts) = (await TestsAsync(bed), await SumsAsync(bed));
        Assert.True(tests.Count > 100, $"{tests.Count} counted tests show little.");
        Assert.Equal("0 infants and 0 sums differed", await keep.RecountAsync(IntakeBed.Ct));
        Assert.Empty(await bed.ListAsync($"select c::text from screen_counts c where {ScreenColumns.Each(c => $"{c} = 0", " and ")}"));

        await bed.ListAsync("delete from screen_counts where site_id = (select min(site_id::text)::uuid from screen_counts) "
            + "returning unit");
        Assert.StartsWith("0 infants and ", await keep.RecountAsync(IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Equal(counts, await SumsAsync(bed));
        await bed.ListAsync("delete from counted_tests returning infant_id");
        await bed.ListAsync("delete from screen_counts returning unit");
        await keep.RecountAsync(IntakeBed.Ct);
        await keep.FoldAsync(IntakeBed.Ct);
        Assert.Equal(tests, await TestsAsync(bed));
        Assert.Equal(counts, await SumsAsync(bed));
    }

    private static async Task<long> FoldAsync(IntakeBed bed, int most)
    {
        await using var connection = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);
        await using var transaction = await connection.BeginTransactionAsync(IntakeBed.Ct);
        var folded = await FoldCounts.SomeAsync(connection, most, IntakeBed.Ct);
        await transaction.CommitAsync(IntakeBed.Ct);
        return folded;
    }

    private static Task<List<string>> TestsAsync(IntakeBed bed) => bed.ListAsync("select t::text from counted_tests t order by 1");

    private static Task<List<string>> SumsAsync(IntakeBed bed) => bed.ListAsync("select c::text from screen_counts c order by 1");

    /// <summary>All that pages read, of some days.</summary>
    private static async Task<List<string>> ReadAsync(IntakeBed bed)
    {
        var lines = new List<string>();
        foreach (var day in Days(bed))
            foreach (var grouping in ScreenColumns.Kept)
                foreach (var by in ScreenColumns.Days(grouping))
                    lines.AddRange((await CountedAsync(bed, day, grouping, by)).Select(line => $"{day:O} {grouping} {by} {line}"));
        return lines;
    }

    private static async Task<List<string>> CountedAsync(
        IntakeBed bed, DateOnly day, ScreenGrouping grouping = ScreenGrouping.Instrument, CountedDay by = CountedDay.Test)
    {
        var policy = await bed.App.Services.GetRequiredService<PolicyStore>().InForceAsync(day, IntakeBed.Ct);
        var counts = await bed.App.Services.GetRequiredService<CountScreens>().ByDayAsync(grouping,
            new(new(new(2000, 1, 1), day.AddYears(1)), by, null, day == bed.App.Today ? null : day, policy), IntakeBed.Ct);
        return [.. counts.Select(c => string.Create(CultureInfo.InvariantCulture,
                $"{c.Counts.SiteId.Value} {c.Counts.Unit} {c.Day:yyyy-MM-dd} {string.Join(' ', c.Counts.Figures)}"))
            .Order(StringComparer.Ordinal)];
    }

    private static async Task<List<string>> FromFactsAsync(IntakeBed bed, DateOnly day, ScreenGrouping grouping)
    {
        var sql = (await File.ReadAllTextAsync(
            Path.Combine(SourceTree.Root, "tests/Registry.Tests/Infants/Counting/CountsFromFacts.sql"), IntakeBed.Ct))
            .Replace("{sums}", ScreenColumns.Each(c => $"sum({c})"), StringComparison.Ordinal);
        var policy = await bed.App.Services.GetRequiredService<PolicyStore>().InForceAsync(day, IntakeBed.Ct);
        await using var command = bed.Source.CreateCommand(sql);
        var p = command.Parameters;
        p.AddWithValue("known", day == bed.App.Today ? DateTime.SpecifyKind(new DateTime(2100, 1, 1), DateTimeKind.Utc)
            : DateTime.SpecifyKind(day.AddDays(1).ToDateTime(TimeOnly.MinValue), DateTimeKind.Utc));
        p.AddWithValue("by_arrival", grouping == ScreenGrouping.Arrival);
        p.AddWithValue("trust_stage", policy.TrustReportedStage);
        p.AddWithValue("admission_hours", policy.BirthAdmissionHours);
        p.AddWithValue("inpatient_days", policy.InpatientDays);
        p.AddWithValue("early_abr", policy.EarliestAbrHours);
        p.AddWithValue("early_oae", policy.EarliestOaeHours);
        p.AddWithValue("session_hours", policy.SessionHours);
        p.AddWithValue("sitting_minutes", policy.SittingMinutes);
        p.AddWithValue("zone", policy.Zone.Id);
        p.AddWithValue("methods", Enum.GetValues<ScreeningMethod>().Select(Codes.Of).ToArray());
        p.AddWithValue("stages", Enum.GetValues<ScreeningStage>().Select(Codes.Of).ToArray());
        p.AddWithValue("reasons", Enum.GetValues<ScreeningReason>().Select(Codes.Of).ToArray());
        await using var r = await command.ExecuteReaderAsync(IntakeBed.Ct);
        var lines = new List<string>();
        while (await r.ReadAsync(IntakeBed.Ct)) lines.Add(r.GetString(0));
        return [.. lines.Order(StringComparer.Ordinal)];
    }

    /// <summary>Sixty days of two sites: births and tests, sent again, stated anew, taken back, merged, and late.</summary>
    private sealed class History(int seed, IntakeBed bed)
    {
        private const string Header = "action,kind,record_number,prior_record_number,birth_date,birth_time,birth_place,sex,nicu_admitted_on,"
            + "nicu_discharged_on,discharged_on,gestation_weeks,ear,outcome,reason,method,performed_at,stage,instrument,probe,screener,to_site,"
            + "transferred_on\n";

        private readonly Random _random = new(seed);
        private readonly List<(string Number, bool OnHill, DateOnly Born)> _born = [];
        private readonly List<(string Number, bool OnHill, string Ear, string At)> _tests = [];

        public async Task SendAsync()
        {
            for (var day = 0; day < 56; day++)
            {
                foreach (var hill in new[] { false, true })
                {
                    var rows = new StringBuilder(Header);
                    for (var i = _random.Next(5); i >= 0; i--) rows.Append(Row(First.AddDays(day), hill));
                    await bed.SendAsync(rows.ToString(), hill ? bed.Hill : bed.Harbour,
                        at: new DateTimeOffset(First.AddDays(day).ToDateTime(new TimeOnly(_random.Next(24), 30)), TimeSpan.Zero));
                }
            }
        }

        private string Row(DateOnly today, bool hill)
        {
            var own = _born.FindAll(b => b.OnHill == hill);
            var tests = _tests.FindAll(t => t.OnHill == hill);
            return _random.Next(12) switch
            {
                0 or 1 => Birth(today, hill, "report", $"{(hill ? "L" : "H")}{_born.Count}", today.AddDays(-_random.Next(3))),
                2 when own.Count > 0 => own[_random.Next(own.Count)] is var b ? Birth(today, hill, "correct", b.Number, b.Born) : "",
                3 when tests.Count > 0 => Test(today, "correct", tests[_random.Next(tests.Count)]),
                4 when tests.Count > 0 => Test(today, "retract", tests[_random.Next(tests.Count)]),
                5 when own.Count > 2 => $",merge,{own[_random.Next(own.Count)].Number},{own[_random.Next(own.Count)].Number},,,,,,,,,,,,,,,,,,,\n",
                6 when own.Count > 0 => own[_random.Next(own.Count)] is var b
                    ? $",transfer,{b.Number},,,,,,,,,,,,,,,,,,,{(hill ? "harbour" : "hill")},{b.Born.AddDays(_random.Next(4)):yyyy-MM-dd}\n" : "",
                _ when own.Count > 0 => NewTest(today, hill, own[_random.Next(Math.Max(0, own.Count - 6), own.Count)]),
                _ => Birth(today, hill, "report", $"{(hill ? "L" : "H")}{_born.Count}", today),
            };
        }

        private string Birth(DateOnly today, bool hill, string action, string number, DateOnly born)
        {
            if (action == "report") _born.Add((number, hill, born));
            string Day(int chance, int after) => _random.Next(chance) == 0 && born.AddDays(after) <= today
                ? born.AddDays(after).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture) : "";
            var nicu = Day(3, 0);
            var time = _random.Next(4) == 0 ? "" : $"{_random.Next(24):00}:15";
            var place = _random.Next(8) == 0 ? "home" : "hospital";
            return $"{action},birth,{number},,{born:yyyy-MM-dd},{time},{place},female,{nicu},{(nicu.Length > 0 ? Day(2, 3) : "")},"
                + $"{Day(2, 1 + _random.Next(4))},{(_random.Next(3) == 0 ? "" : 30 + _random.Next(11))},,,,,,,,,,,\n";
        }

        private string NewTest(DateOnly today, bool hill, (string Number, bool OnHill, DateOnly Born) infant)
        {
            // Crowded around one morning, so that sessions, ties and repeated tests are common.
            var day = infant.Born.AddDays(_random.Next(Math.Max(1, Math.Min(7, today.DayNumber - infant.Born.DayNumber))));
            var at = $"{day:yyyy-MM-dd}T{_random.Next(6, 15):00}:{_random.Next(0, 4) * 15:00}";
            var test = (infant.Number, hill, _random.Next(2) == 0 ? "right" : "left", at);
            _tests.Add(test);
            return Test(today, "", test);
        }

        private string Test(DateOnly today, string action, (string Number, bool OnHill, string Ear, string At) test)
        {
            var outcome = _random.Next(9) switch { < 4 => "pass", < 6 => "refer", < 8 => "no_valid_result", _ => "not_performed" };
            var reason = outcome switch
            {
                "no_valid_result" => new[] { "no_seal", "noise", "infant_unsettled" }[_random.Next(3)],
                "not_performed" => "declined",
                _ => "",
            };
            var method = outcome == "not_performed" ? "" : _random.Next(3) == 0 ? "aabr" : "teoae";
            var stage = new[] { "", "", "", "birth_admission", "outpatient_rescreen" }[_random.Next(5)];
            return $"{action},screening,{test.Number},,,,,,,,,,{test.Ear},{outcome},{reason},{method},{test.At},{stage},"
                + $"I{_random.Next(2)},P{_random.Next(3)},{(_random.Next(3) == 0 ? "" : "S1")},,\n";
        }
    }
}
