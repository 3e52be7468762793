using System.Globalization;
using System.Net;
using System.Text;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.DependencyInjection;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Quality;
using Registry.SiteQuality;
using Registry.Tests.Intake;

namespace Registry.Tests.SiteQuality;

/// <summary>What the nights of a quarter are compared with is made once and kept, read as it was written; and what it is made of is read
/// from the facts, rescreens too.</summary>
public sealed class KeepPlansTests(TestDatabase database)
{
    private static readonly DateOnly WatchedFrom = ComputeSiteRates.WatchedFrom(RegistryApp.DefaultToday);

    [Fact]
    public async Task A_plan_is_made_once_a_quarter_and_again_when_the_policy_or_its_year_changed()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Infants("A", 420, WatchedFrom.AddDays(-200)), bed.Harbour);
        await RunAsync();
        Assert.Empty(await PlansAsync()); // too few in the year before: anew every night

        await bed.SendAsync(Infants("B", 180, WatchedFrom.AddDays(-100)), bed.Hill);
        await RunAsync();
        var plan = Assert.Single(await PlansAsync());
        Assert.Equal((WatchedFrom, 600, await PolicyAsync()), (plan.WatchedFrom, plan.Infants, plan.PolicyVersion));
        await RunAsync();
        Assert.Single(await PlansAsync());

        // A tenth more: not yet; one more than that: again. What was made stays.
        await bed.SendAsync(Infants("C", 60, WatchedFrom.AddDays(-60)), bed.Hill);
        await RunAsync();
        Assert.Single(await PlansAsync());
        await bed.SendAsync(Infants("D", 1, WatchedFrom.AddDays(-60)), bed.Hill);
        await RunAsync();
        Assert.Equal([600, 661], (await PlansAsync()).Select(p => p.Infants));

        await bed.DecidePolicyAsync(p => p with { FalseFlagsPerYear = 3 });
        await RunAsync();
        Assert.Equal([600, 661, 661], (await PlansAsync()).Select(p => p.Infants));

        Task<string> RunAsync() => ComputeSiteRatesTests.RunAsync(bed);
        async Task<List<QualityPlan>> PlansAsync()
        {
            await using var db = bed.App.OpenDb();
            return await db.QualityPlans.OrderBy(p => p.Id).ToListAsync(IntakeBed.Ct);
        }

        async Task<string> PolicyAsync() =>
            (await bed.App.Services.GetRequiredService<PolicyStore>().InForceAsync(bed.App.Today, IntakeBed.Ct)).Version;
    }

    [Fact]
    public async Task A_kept_plan_is_read_to_the_last_digit()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Infants("A", 520, WatchedFrom.AddDays(-200)), bed.Harbour);
        var keep = bed.App.Services.GetRequiredService<KeepPlans>();
        var (made, _) = await keep.ForAsync(WatchedFrom, Policy.Default, IntakeBed.Ct);
        var (read, watched) = await keep.ForAsync(WatchedFrom, Policy.Default, IntakeBed.Ct);
        Assert.Equal(QualityPlan.Write(made), QualityPlan.Write(read));
        Assert.Equal(made.Thresholds.Count, read.Thresholds.Count);
        Assert.All(made.Thresholds, t => Assert.Equal(t.Value, read.Thresholds[t.Key]));
        Assert.Equal(made.Tolerance, read.Tolerance);
        Assert.All(made.Models, m => Assert.Equal(m.Value.Terms, read.Models[m.Key].Terms));
        Assert.Empty(watched);
    }

    [Fact]
    public async Task A_page_shows_the_case_mix_in_use_with_its_terms_and_every_one_kept()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Contains("No case mix kept", await coordinator.GetStringAsync("/reports/case-mix", IntakeBed.Ct), StringComparison.Ordinal);
        await bed.SendAsync(Infants("A", 520, WatchedFrom.AddDays(-200)), bed.Harbour);
        var (plan, _) = await bed.App.Services.GetRequiredService<KeepPlans>().ForAsync(WatchedFrom, Policy.Default, IntakeBed.Ct);
        var page = WebUtility.HtmlDecode(await coordinator.GetStringAsync("/reports/case-mix", IntakeBed.Ct));
        var model = plan.Models[SessionMeasure.Referred];
        Assert.Contains("52 of 520 infants, first tested", page, StringComparison.Ordinal);
        foreach (var term in model.Terms)
            Assert.Contains($"<th scope=\"row\">{SiteWords.Term(term)}</th><td class=\"number\">{SiteWords.Coefficient(term.Estimate)} "
                + $"<small>({SiteWords.Coefficient(term.StandardError)})</small></td>", page, StringComparison.Ordinal);
        Assert.Contains("Case mixes kept", page, StringComparison.Ordinal);
        var one = (await bed.ListAsync("select id from quality_plans"))[0];
        Assert.Contains($"plan={one}", page, StringComparison.Ordinal);
        Assert.Contains("No case mix kept", await coordinator.GetStringAsync($"/reports/case-mix?plan={Guid.NewGuid()}", IntakeBed.Ct),
            StringComparison.Ordinal);
    }

    /// <summary>The next session after one that referred, at whichever site: of each ear its first valid result.</summary>
    [Fact]
    public async Task A_rescreen_is_the_next_session_after_one_that_referred()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        const string head = "kind,record_number,birth_date,birth_time,sex,ear,outcome,reason,method,performed_at,instrument\n";
        await bed.SendAsync(head + Born("R1") + Born("R2") + Born("R3")
            + Test("R1", "right", "refer", "02T09:00") + Test("R1", "left", "pass", "02T09:10") + Test("R1", "right", "refer", "02T10:00")
            + Test("R1", "right", "no_valid_result", "14T09:00") + Test("R1", "right", "pass", "14T09:20")
            + Test("R1", "right", "refer", "14T09:40") + Test("R1", "left", "pass", "14T09:50") + Test("R1", "right", "refer", "20T09:00")
            + Test("R2", "right", "refer", "02T09:00") + Test("R2", "right", "refer", "15T09:00")
            + Test("R3", "right", "pass", "02T09:00") + Test("R3", "right", "refer", "16T09:00"), bed.Harbour);
        var cells = await bed.App.Services.GetRequiredService<ReadCells>().SinceAsync(new(2026, 10, 1), Policy.Default, IntakeBed.Ct);
        Assert.Equal(["2026-10-14 1 1 0", "2026-10-15 1 1 1"], cells.Where(c => c.Rescreens).OrderBy(c => c.Day)
            .Select(c => string.Create(CultureInfo.InvariantCulture, $"{c.Day:yyyy-MM-dd} {c.Sessions} {c.Valid} {c.Referred}")));
        Assert.All(cells.Where(c => c.Rescreens), c => Assert.Equal(("harbour", AgeBand.Older), (c.Site, c.Age)));
        Assert.Equal((3, 2), (cells.Where(c => !c.Rescreens).Sum(c => c.Sessions), cells.Where(c => !c.Rescreens).Sum(c => c.Referred)));

        static string Born(string number) => $"birth,{number},2026-10-01,08:00,female,,,,,,\n";
        static string Test(string number, string ear, string outcome, string at) =>
            $"screening,{number},,,,{ear},{outcome},{(outcome == "no_valid_result" ? "noise" : "")},teoae,2026-10-{at},I1\n";
    }

    /// <summary>An age that is no multiple of the bands' six hours: tests at 13 hours are early where 15 are asked for.</summary>
    [Theory]
    [InlineData(15, 2)]
    [InlineData(12, 1)]
    public async Task Early_is_what_is_before_the_policys_age_to_the_hour(int hours, int early)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.DecidePolicyAsync(p => p with { EarliestOaeHours = hours });
        await bed.SendAsync("kind,record_number,birth_date,birth_time,sex,ear,outcome,method,performed_at\n"
            + string.Concat(new[] { 10, 13, 16 }.Select((age, i) => $"birth,R{i},2026-10-01,01:00,female,,,,\n"
                + $"screening,R{i},,,,right,pass,teoae,2026-10-01T{age + 1}:00\n")), bed.Harbour);
        var policy = await bed.App.Services.GetRequiredService<PolicyStore>().InForceAsync(bed.App.Today, IntakeBed.Ct);
        var cells = await bed.App.Services.GetRequiredService<ReadCells>().SinceAsync(new(2026, 10, 1), policy, IntakeBed.Ct);
        var counted = cells.Select(c => CountMeasure.In(c, SessionMeasure.Early, policy)).ToList();
        Assert.Equal((3, early), (counted.Sum(c => c.Trials), counted.Sum(c => c.Events)));
        Assert.Equal(early, cells.Count(c => new CauseFactor(CauseKind.EarlyTests, "harbour").Holds(c, SessionMeasure.Referred, policy)));
    }

    /// <summary>Five a day, one in ten refers.</summary>
    private static string Infants(string prefix, int count, DateOnly first)
    {
        var csv = new StringBuilder("kind,record_number,birth_date,birth_time,sex,ear,outcome,method,performed_at,instrument,probe\n");
        for (var i = 0; i < count; i++)
        {
            var born = first.AddDays(i / 5);
            csv.Append(CultureInfo.InvariantCulture, $"birth,{prefix}{i},{born:yyyy-MM-dd},08:00,female,,,,,,\n");
            csv.Append(CultureInfo.InvariantCulture, $"screening,{prefix}{i},,,,right,{(i % 10 == 0 ? "refer" : "pass")},teoae,"
                + $"{born.AddDays(1):yyyy-MM-dd}T10:00,I{i % 2},P{i % 3}\n");
        }

        return csv.ToString();
    }
}
