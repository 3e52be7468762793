using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Microsoft.AspNetCore.Identity;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Demo;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;
using Registry.Tests.Reporting.Measures;

namespace Registry.Tests.Demo;

/// <summary>A small region through the intake: what the pages then have to show.</summary>
public sealed class LoadDemoRegionTests(TestDatabase database)
{
    private static readonly DemoRegion Region = DemoRegion.Small(RegistryApp.DefaultToday);
    private static CancellationToken Ct => TestContext.Current.CancellationToken;

    [Fact]
    public async Task A_small_region_loads_once_with_every_kind_of_work_and_its_people_and_keys()
    {
        await using var app = await RegistryApp.StartAsync(database);
        var said = new List<string>();
        Assert.False(await LoadDemoRegion.IsLoadedAsync(app.Services, Ct));
        await LoadDemoRegion.RunAsync(app.Services, Region, said.Add, Ct);
        Assert.True(await LoadDemoRegion.IsLoadedAsync(app.Services, Ct));
        Assert.Contains(said, line => line.Contains("loaded", StringComparison.Ordinal));
        await using var db = app.OpenDb();

        // Every row has its outcome, and what was received is in the past of the anchor day.
        var submissions = await db.Submissions.AsNoTracking().ToListAsync(Ct);
        Assert.All(submissions, s => Assert.Equal(SubmissionState.Done, s.State));
        Assert.All(submissions, s => Assert.Equal(s.RowCount, s.Accepted + s.Unchanged + s.Rejected + s.Held));
        Assert.InRange(submissions.Sum(s => s.Rejected), 1, 60);
        Assert.True(submissions.Sum(s => s.Accepted) > .9 * submissions.Sum(s => s.RowCount));
        Assert.InRange(await db.Infants.CountAsync(Ct), 280, 300);
        Assert.Equal(await db.Infants.CountAsync(Ct), await db.InfantStatuses.CountAsync(s => s.AsOf == Region.Anchor, Ct));

        await AssertEverythingExplainedAsync(db);
        await AssertHeldTwinsAsync(db);
        await AssertWorkAsync(db);
        await AssertSignInAsync(app, db);

        // Again: nothing twice.
        var infants = await db.Infants.CountAsync(Ct);
        await LoadDemoRegion.RunAsync(app.Services, Region, said.Add, Ct);
        Assert.Equal(submissions.Count, await db.Submissions.CountAsync(Ct));
        Assert.Equal(infants, await db.Infants.CountAsync(Ct));
        Assert.Equal(Places.All.Count, await db.SiteKeys.CountAsync(Ct));
    }

    /// <summary>What the record page shows: each milestone its reason, each due date its reason, its rule and the rule's source.</summary>
    private static async Task AssertEverythingExplainedAsync(RegistryDb db)
    {
        var statuses = await db.InfantStatuses.AsNoTracking().ToListAsync(Ct);
        Assert.All(statuses, s => Assert.All([s.ScreenedReason, s.DiagnosedReason, s.EnrolledReason], Assert.NotEmpty));
        var dues = statuses.SelectMany(s => JsonDocument.Parse(s.Dues).RootElement.EnumerateArray()).ToList();
        Assert.NotEmpty(dues);
        Assert.All(dues, due =>
        {
            Assert.NotEmpty(due.GetProperty("why").GetString()!);
            var rule = RuleCatalogue.Find(due.GetProperty("rule").GetString()!);
            Assert.NotNull(rule);
            Assert.True(rule.Source.Length > 0 || rule.Mark == SourceMark.CommonPractice, rule.Id);
        });
    }

    [Fact]
    public async Task An_interrupted_load_goes_on_with_the_region_it_began()
    {
        await using var app = await RegistryApp.StartAsync(database);
        using var stop = CancellationTokenSource.CreateLinkedTokenSource(Ct);
        var loading = LoadDemoRegion.RunAsync(app.Services, Region, _ => { }, stop.Token);
        await using var db = app.OpenDb();
        while (!loading.IsCompleted && await db.Submissions.CountAsync(Ct) < 5) await Task.Delay(20, Ct);
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => loading);
        Assert.False(await LoadDemoRegion.IsLoadedAsync(app.Services, Ct));

        // The next day asks for another anchor; the region begun is finished.
        await LoadDemoRegion.RunAsync(app.Services, Region with { Anchor = Region.Anchor.AddDays(1), Births = 400 }, _ => { }, Ct);
        Assert.Equal(Region.Submissions().Count(), await db.Submissions.CountAsync(Ct));
        Assert.True(await db.Submissions.AllAsync(s => s.State == SubmissionState.Done, Ct));
    }

    private static async Task AssertHeldTwinsAsync(RegistryDb db)
    {
        var held = await db.HeldRows.AsNoTracking().Where(h => h.Resolution == null).ToListAsync(Ct);
        Assert.Empty(held.Select(h => h.Reason).Except(
        [
            HoldReason.BirthOrderMissing, HoldReason.ContradictsRecord, HoldReason.IdentifierContradicted, HoldReason.NoSuchInfant,
            HoldReason.PartialAgreement,
        ]));
        Assert.Equal(2, held.Count(h => h.RecordNumber is not null && h.RecordNumber.StartsWith("TWIN-01", StringComparison.Ordinal)
            && h.Reason == HoldReason.IdentifierContradicted));
        Assert.Equal(2, held.Count(h => h.RecordNumber is not null && h.RecordNumber.StartsWith("TWIN-02", StringComparison.Ordinal)
            && h.Reason == HoldReason.BirthOrderMissing));
        Assert.Contains(held, h => h.Kind == RowKind.Diagnosis && h.Reason == HoldReason.BirthOrderMissing);
    }

    /// <summary>The arranged families (demo-data/README.md) stand where they are said to.</summary>
    private static async Task AssertWorkAsync(RegistryDb db)
    {
        var today = Region.Anchor;
        var byRecord = await db.InfantIdentifiers.AsNoTracking().Where(i => i.Value.StartsWith("WORK-"))
            .Join(db.InfantStatuses.AsNoTracking(), i => i.InfantId, s => s.InfantId, (i, s) => new { i.Value, Status = s })
                .ToDictionaryAsync(x => x.Value, x => x.Status, Ct);
        Assert.Equal(18, byRecord.Count);

        DueThisWeek("WORK-01", DueStep.Screen);
        DueThisWeek("WORK-02", DueStep.Rescreen);
        DueThisWeek("WORK-03", DueStep.CompleteScreen);
        DueThisWeek("WORK-05", DueStep.DiagnosticEvaluation);
        DueThisWeek("WORK-06", DueStep.DiagnosticEvaluation);
        Overdue("WORK-07", DueStep.CompleteDiagnosis);
        Overdue("WORK-08", DueStep.DiagnosticEvaluation);
        Assert.Equal((LossState.LostToFollowUp, SurveyCategory.UnableToContact),
            (byRecord["WORK-08"].Loss, byRecord["WORK-08"].DiagnosisCategory));
        Assert.Equal((LossState.LostToDocumentation, (PathStep?)PathStep.Diagnosis),
            (byRecord["WORK-09"].Loss, byRecord["WORK-09"].LostAt));
        DueThisWeek("WORK-10", DueStep.SurveillanceEvaluation);
        DueThisWeek("WORK-11", DueStep.ReferToIntervention);
        DueThisWeek("WORK-12", DueStep.EnrolInIntervention);
        Assert.Equal(MilestoneState.Missed, byRecord["WORK-13"].EnrolledState);
        Assert.Equal(MilestoneState.Met, byRecord["WORK-14"].EnrolledState);
        Assert.Equal(SurveyCategory.NonResidentOrMoved, byRecord["WORK-15"].DiagnosisCategory);
        Overdue("WORK-16", DueStep.DiagnosticEvaluation);
        Assert.Equal(SurveyCategory.Declined, byRecord["WORK-17"].DiagnosisCategory);
        Assert.Equal(SurveyCategory.Died, byRecord["WORK-18"].ScreeningCategory);

        void DueThisWeek(string record, DueStep step)
        {
            Assert.Equal((record, step), (record, byRecord[record].NextStep));
            Assert.InRange(byRecord[record].NextDueOn!.Value, today, today.AddDays(7));
        }

        void Overdue(string record, DueStep step)
        {
            Assert.Equal((record, step), (record, byRecord[record].NextStep));
            Assert.True(byRecord[record].NextDueOn < today);
        }
    }

    private static async Task AssertSignInAsync(RegistryApp app, RegistryDb db)
    {
        await using var scope = app.Services.CreateAsyncScope();
        var people = scope.ServiceProvider.GetRequiredService<UserManager<Person>>();
        foreach (var (email, _, role, site, _) in DemoPeople.All)
        {
            var person = await people.FindByEmailAsync(email);
            Assert.NotNull(person);
            Assert.Equal(role, person.Role);
            Assert.True(await people.CheckPasswordAsync(person, DemoPeople.Password));
            Assert.Equal(site is null ? null : (await db.Sites.SingleAsync(s => s.Code == site, Ct)).Id, person.SiteId);
        }

        var hash = SHA256.HashData(Encoding.UTF8.GetBytes(LoadDemoRegion.SiteKeyOf(Places.LeakingSite)));
        var key = await db.SiteKeys.AsNoTracking().SingleAsync(k => k.Sha256 == hash, Ct);
        Assert.Equal((await db.Sites.SingleAsync(s => s.Code == Places.LeakingSite, Ct)).Id, key.SiteId);
        // Open to nobody but in a demonstration, which this program is not.
        Assert.True(key.Demonstration && await db.Users.AllAsync(p => p.Demonstration, Ct));
        Assert.True(await db.Installations.AllAsync(i => i.Demonstration, Ct));
        Assert.Null(await scope.ServiceProvider.GetRequiredService<FindSiteKey>().ForAsync(LoadDemoRegion.SiteKeyOf(Places.LeakingSite)));
    }
}
