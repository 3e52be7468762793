using System.Text.Json;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.DependencyInjection;
using Registry.Infants.Statuses;
using Registry.PolicyChanges;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Tests.Browser;
using Registry.Tests.Intake;

namespace Registry.Tests.PolicyChanges;

/// <summary>A new policy version: who would change is known before it is in force, nothing changes by asking, and it can be taken
/// back.</summary>
public sealed class ChangePolicyTests(TestDatabase database, Chromium chromium)
{
    // Both ears referred 75 days ago: the diagnosis is pending by 1-3-6 and overdue by 1-2-3. Passed: nothing changes.
    private const string Rows =
        """
        kind,record_number,birth_date,sex,mother_family_name,mother_given_name,ear,outcome,method,performed_at
        birth,1,2026-09-11,female,Ash,Ada,,,,
        screening,1,,,,,right,refer,aabr,2026-09-12T10:00
        screening,1,,,,,left,refer,aabr,2026-09-12T10:10
        birth,2,2026-09-11,male,Birch,Bea,,,,
        screening,2,,,,,right,pass,aabr,2026-09-12T10:00
        screening,2,,,,,left,pass,aabr,2026-09-12T10:10
        """;

    private static readonly StatusChange Overdue = new(StatusAspect.Diagnosed, "pending", "missed");

    private static Policy Proposed => Policy.OneTwoThree with { Version = "strict", EffectiveFrom = RegistryApp.DefaultToday.AddDays(1) };

    [Fact]
    public async Task A_draft_says_whom_it_changes_and_changes_nobody()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var before = await StatusesAsync(bed);
        var (draft, counts) = await DraftAsync(bed, Proposed);
        Assert.Equal((2, 1), (counts.Infants, counts.Changed));
        Assert.Contains(new ChangeLine(Overdue.Aspect, Overdue.From, Overdue.To, 1), counts.Lines);
        Assert.Equal(before, await StatusesAsync(bed));

        var count = bed.App.Services.GetRequiredService<CountStatusChanges>();
        Assert.Single((await count.BehindAsync(draft, Overdue, IntakeBed.Ct))!);
        Assert.Single((await count.BehindAsync(draft, null, IntakeBed.Ct))!);
        Assert.Empty((await count.BehindAsync(draft, new(StatusAspect.Loss, "none", "lost_to_follow_up"), IntakeBed.Ct))!);
    }

    [Fact]
    public async Task Put_in_force_it_holds_from_its_first_day_and_the_sweep_recomputes_everyone_then()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var (draft, _) = await DraftAsync(bed, Proposed);
        Assert.Equal(DraftOutcome.Scheduled, await ScheduleAsync(bed, draft));
        Assert.Equal(DraftOutcome.DecidedAlready, await ScheduleAsync(bed, draft));
        var policies = bed.App.Services.GetRequiredService<PolicyStore>();
        Assert.Equal("2026-1", (await policies.InForceAsync(bed.App.Today, IntakeBed.Ct)).Version);
        var tomorrow = await policies.InForceAsync(bed.App.Today.AddDays(1), IntakeBed.Ct);
        Assert.Equal("strict", tomorrow.Version);

        Assert.Equal(2, await RecomputeStatuses.ForAllAsync(bed.Source, bed.App.Today.AddDays(1), tomorrow, IntakeBed.Ct));
        Assert.Equal(["strict missed", "strict not_required"], await bed.ListAsync(
            "select policy_version || ' ' || diagnosed_state from infant_status order by 1"));
    }

    [Fact]
    public async Task Until_its_first_day_a_version_can_be_withdrawn_and_was_never_in_force()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var (draft, _) = await DraftAsync(bed, Proposed);
        Assert.Equal(DraftOutcome.Scheduled, await ScheduleAsync(bed, draft));
        Assert.Equal(DraftOutcome.TakenBack, await TakeBackAsync(bed, draft));
        Assert.Equal("2026-1",
            (await bed.App.Services.GetRequiredService<PolicyStore>().InForceAsync(bed.App.Today.AddDays(9), IntakeBed.Ct)).Version);
        Assert.Equal(["2026-1 f", "strict t"],
            await bed.ListAsync("select version || ' ' || case when withdrawn_at is null then 'f' else 't' end from policies order by 1"));
        Assert.Contains("there is a version of this name", await ProblemsAsync(bed, Proposed));
    }

    [Theory]
    [InlineData("yesterday's start", "effectiveFrom")]
    [InlineData("no source", "source")]
    [InlineData("diagnosis before screening", "diagnosisDeadline")]
    public async Task A_version_that_cannot_be_is_refused_by_field(string wrong, string field)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var policy = wrong switch
        {
            "no source" => Proposed with { Source = "" },
            "diagnosis before screening" => Proposed with { DiagnosisDeadline = new(1, DeadlineUnit.Days) },
            _ => Proposed with { EffectiveFrom = bed.App.Today },
        };
        Assert.StartsWith(field + ":", await ProblemsAsync(bed, policy), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_coordinator_drafts_counts_and_puts_in_force_in_a_browser_and_others_cannot()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Role"] = "both" }, listen: true);
        await bed.SendAsync(Rows);
        var coordinator = await bed.AddPersonAsync(Role.Coordinator);
        var page = await SignedIn.OpenAsync(chromium, bed.App, coordinator.Email!, from: "/policy/new");
        await page.ArriveAsync("*/policy/new");
        await page.Locator("#version").FillAsync("strict");
        await page.Locator("input[name='diagnosisDeadline.amount']").FillAsync("2");
        await page.Locator("input[name='passCriteria.0.site']").FillAsync("harbour");
        await page.Locator("input[name='passCriteria.0.bands']").FillAsync("3");
        await page.Locator("input[name='passCriteria.0.minSnrDb']").FillAsync("6.5");
        await page.Locator("input[name='passCriteria.0.frequenciesHz']").FillAsync("2000, 3000, 4000");
        await page.Locator("input[name='interventionDeadline.amount']").FillAsync("three");
        await page.GetByText("Draft it and count").ClickAsync();
        Assert.Contains("interventionDeadline.amount", await page.Locator("[role=alert]").InnerTextAsync(), StringComparison.Ordinal);
        Assert.Equal("2", await page.Locator("input[name='diagnosisDeadline.amount']").InputValueAsync());
        await page.Locator("input[name='interventionDeadline.amount']").FillAsync("3");
        await page.GetByText("Draft it and count").ClickAsync();
        await page.GetByText("harbour: 3 bands of 2000, 3000, 4000 Hz with at least 6.5 dB").WaitForAsync();
        await page.GetByText("of 2 infants would change").WaitForAsync();
        await page.Locator("#changes a").ClickAsync();
        await page.ArriveAsync("*/infants");
        Assert.Equal(1, await page.Locator("main table tbody tr").CountAsync());
        await page.GoBackAsync();
        await page.GetByText("Put in force from").ClickAsync();
        await page.GetByText("Withdraw before its first day").WaitForAsync();
        await page.GotoAsync("/policy");
        Assert.Contains("strict", await page.Locator("main").InnerTextAsync(), StringComparison.Ordinal);
    }

    private static async Task<(Guid Draft, ChangeCounts Counts)> DraftAsync(IntakeBed bed, Policy proposed)
    {
        Guid id;
        await using (var scope = bed.App.Services.CreateAsyncScope())
            id = (await scope.ServiceProvider.GetRequiredService<ChangePolicy>()
                .DraftAsync(proposed, Guid.CreateVersion7(), IntakeBed.Ct)).Id;
        await bed.App.Services.GetRequiredService<CountStatusChanges>().RunAsync(id, IntakeBed.Ct);
        await using var db = bed.App.OpenDb();
        var draft = await db.PolicyDrafts.SingleAsync(d => d.Id == id, IntakeBed.Ct);
        return (id, JsonSerializer.Deserialize<ChangeCounts>(draft.Changes!, JsonSerializerOptions.Web)!);
    }

    private static async Task<DraftOutcome> ScheduleAsync(IntakeBed bed, Guid draft)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        return (await scope.ServiceProvider.GetRequiredService<ChangePolicy>()
            .ScheduleAsync(draft, Guid.CreateVersion7(), IntakeBed.Ct)).Outcome;
    }

    private static async Task<DraftOutcome> TakeBackAsync(IntakeBed bed, Guid draft)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        return (await scope.ServiceProvider.GetRequiredService<ChangePolicy>()
            .TakeBackAsync(draft, Guid.CreateVersion7(), IntakeBed.Ct)).Outcome;
    }

    private static async Task<string> ProblemsAsync(IntakeBed bed, Policy policy)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        var problems = await scope.ServiceProvider.GetRequiredService<ChangePolicy>().ProblemsAsync(policy, IntakeBed.Ct);
        return string.Join('\n', problems.Select(PolicyWords.Of));
    }

    private static Task<List<string>> StatusesAsync(IntakeBed bed) => bed.ListAsync(
        "select to_jsonb(s)::text from infant_status s order by 1");
}
