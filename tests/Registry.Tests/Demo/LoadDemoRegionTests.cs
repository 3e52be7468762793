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
using Registry.Tests.Intake;

namespace Registry.Tests.Demo;

/// <summary>A small region through the intake: what the pages then have to show.</summary>
public sealed class LoadDemoRegionTests(TestDatabase database)
{
    private static readonly DemoRegion Region = DemoRegion.Small(RegistryApp.DefaultToday);
    private static CancellationToken Ct => TestContext.Current.CancellationToken;

    /// <summary>The region loaded once a run, asked about.</summary>
    private async Task<IntakeBed> LoadedAsync() => await IntakeBed.StartWithRegionAsync(database);

    [Fact]
    public async Task Loading_says_so_and_a_second_time_adds_nothing()
    {
        await using var app = await RegistryApp.StartAsync(database);
        var said = new List<string>();
        Assert.False(await LoadDemoRegion.IsLoadedAsync(app.Services, Ct));
        await LoadDemoRegion.RunAsync(app.Services, Region, said.Add, Ct);
        Assert.True(await LoadDemoRegion.IsLoadedAsync(app.Services, Ct));
        Assert.Contains(said, line => line.Contains("loaded", StringComparison.Ordinal));

        await using var db = app.OpenDb();
        var before = await CountsAsync(db);
        await LoadDemoRegion.RunAsync(app.Services, Region, said.Add, Ct);
        Assert.Equal(before, await CountsAsync(db));
        Assert.Equal(Places.All.Count, before.Keys);
    }

    private static async Task<(int Submissions, int Infants, int Keys)> CountsAsync(RegistryDb db) =>
        (await db.Submissions.CountAsync(Ct), await db.Infants.CountAsync(Ct), await db.SiteKeys.CountAsync(Ct));

    [Fact]
    public async Task Every_row_has_its_outcome_and_few_are_rejected()
    {
        await using var bed = await LoadedAsync();
        await using var db = bed.App.OpenDb();
        var submissions = await db.Submissions.AsNoTracking().ToListAsync(Ct);
        Assert.All(submissions, s => Assert.Equal(SubmissionState.Done, s.State));
        Assert.All(submissions, s => Assert.Equal(s.RowCount, s.Accepted + s.Unchanged + s.Rejected + s.Held));
        Assert.InRange(submissions.Sum(s => s.Rejected), 1, 60);
        Assert.True(submissions.Sum(s => s.Accepted) > .9 * submissions.Sum(s => s.RowCount));
    }

    [Fact]
    public async Task Every_infant_has_its_status_of_the_day()
    {
        await using var bed = await LoadedAsync();
        await using var db = bed.App.OpenDb();
        var infants = await db.Infants.CountAsync(Ct);
        Assert.InRange(infants, 280, 300);
        Assert.Equal(infants, await db.InfantStatuses.CountAsync(s => s.AsOf == Region.Anchor, Ct));
    }

    /// <summary>What the record page shows: each milestone its reason, each due date its reason, its rule and the rule's source.</summary>
    [Fact]
    public async Task Every_milestone_and_due_date_is_explained()
    {
        await using var bed = await LoadedAsync();
        await using var db = bed.App.OpenDb();
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

    [Fact]
    public async Task Rows_wait_for_reasons_the_region_arranges_and_for_no_other()
    {
        await using var bed = await LoadedAsync();
        var held = await HeldAsync(bed);
        Assert.Empty(held.Select(h => h.Reason).Except(
        [
            HoldReason.BirthOrderMissing, HoldReason.ContradictsRecord, HoldReason.IdentifierContradicted, HoldReason.NoSuchInfant,
            HoldReason.PartialAgreement,
        ]));
        Assert.Contains(held, h => h.Kind == RowKind.Diagnosis && h.Reason == HoldReason.BirthOrderMissing);
    }

    [Theory]
    [InlineData("TWIN-01", HoldReason.IdentifierContradicted)]
    [InlineData("TWIN-02", HoldReason.BirthOrderMissing)]
    public async Task Two_rows_of_a_pair_of_twins_wait(string family, HoldReason reason)
    {
        await using var bed = await LoadedAsync();
        Assert.Equal(2, (await HeldAsync(bed)).Count(h =>
            h.RecordNumber is not null && h.RecordNumber.StartsWith(family, StringComparison.Ordinal) && h.Reason == reason));
    }

    private static async Task<List<HeldRow>> HeldAsync(IntakeBed bed)
    {
        await using var db = bed.App.OpenDb();
        return await db.HeldRows.AsNoTracking().Where(h => h.Resolution == null).ToListAsync(Ct);
    }

    /// <summary>The arranged families (demo-data/README.md) stand where they are said to.</summary>
    [Fact]
    public async Task The_arranged_families_have_due_this_week_what_they_are_said_to()
    {
        await using var bed = await LoadedAsync();
        var families = await ArrangedAsync(bed);
        Assert.Equal(
            ["WORK-01 screen", "WORK-02 rescreen", "WORK-03 complete_screen", "WORK-05 diagnostic_evaluation",
                "WORK-06 diagnostic_evaluation", "WORK-10 surveillance_evaluation", "WORK-11 refer_to_intervention",
                "WORK-12 enrol_in_intervention"],
            Steps(families.Where(f => f.Value.NextDueOn >= Region.Anchor && f.Value.NextDueOn <= Region.Anchor.AddDays(7))));
    }

    [Fact]
    public async Task The_arranged_families_have_overdue_what_they_are_said_to()
    {
        await using var bed = await LoadedAsync();
        var families = await ArrangedAsync(bed);
        string[] said = ["WORK-07", "WORK-08", "WORK-16"];
        Assert.Equal(["WORK-07 complete_diagnosis", "WORK-08 diagnostic_evaluation", "WORK-16 diagnostic_evaluation"],
            Steps(families.Where(f => said.Contains(f.Key) && f.Value.NextDueOn < Region.Anchor)));
    }

    [Fact]
    public async Task The_arranged_families_are_lost_enrolled_and_excused_as_they_are_said_to_be()
    {
        await using var bed = await LoadedAsync();
        var families = await ArrangedAsync(bed);
        Assert.Equal(18, families.Count);
        Assert.Equal((LossState.LostToFollowUp, SurveyCategory.UnableToContact),
            (families["WORK-08"].Loss, families["WORK-08"].DiagnosisCategory));
        Assert.Equal((LossState.LostToDocumentation, (PathStep?)PathStep.Diagnosis),
            (families["WORK-09"].Loss, families["WORK-09"].LostAt));
        Assert.Equal((MilestoneState.Missed, MilestoneState.Met), (families["WORK-13"].EnrolledState, families["WORK-14"].EnrolledState));
        Assert.Equal([SurveyCategory.NonResidentOrMoved, SurveyCategory.Declined, SurveyCategory.Died],
            [families["WORK-15"].DiagnosisCategory, families["WORK-17"].DiagnosisCategory, families["WORK-18"].ScreeningCategory]);
    }

    private static async Task<Dictionary<string, InfantStatusRow>> ArrangedAsync(IntakeBed bed)
    {
        await using var db = bed.App.OpenDb();
        return await db.InfantIdentifiers.AsNoTracking().Where(i => i.Value.StartsWith("WORK-"))
            .Join(db.InfantStatuses.AsNoTracking(), i => i.InfantId, s => s.InfantId, (i, s) => new { i.Value, Status = s })
            .ToDictionaryAsync(x => x.Value, x => x.Status, Ct);
    }

    private static IEnumerable<string> Steps(IEnumerable<KeyValuePair<string, InfantStatusRow>> families) =>
        families.OrderBy(f => f.Key, StringComparer.Ordinal)
            .Select(f => f.Value.NextStep is { } step ? $"{f.Key} {Codes.Of(step)}" : f.Key);

    [Fact]
    public async Task Its_people_have_the_password_the_start_prints_and_their_roles()
    {
        await using var bed = await LoadedAsync();
        await using var scope = bed.App.Services.CreateAsyncScope();
        await using var db = bed.App.OpenDb();
        var people = scope.ServiceProvider.GetRequiredService<UserManager<Person>>();
        foreach (var (email, _, role, site, _) in DemoPeople.All)
        {
            var person = await people.FindByEmailAsync(email);
            Assert.NotNull(person);
            Assert.True(await people.CheckPasswordAsync(person, DemoPeople.Password));
            Assert.Equal((role, site is null ? null : (await db.Sites.SingleAsync(s => s.Code == site, Ct)).Id),
                (person.Role, person.SiteId));
        }
    }

    [Fact]
    public async Task Its_keys_and_people_open_nothing_where_no_demonstration_runs()
    {
        await using var bed = await LoadedAsync();
        await using var service = RegistryApp.On(bed.App.Logins.Owner!);
        await using var scope = service.Services.CreateAsyncScope();
        await using var db = bed.App.OpenDb();
        var hash = SHA256.HashData(Encoding.UTF8.GetBytes(LoadDemoRegion.SiteKeyOf(Places.LeakingSite)));
        var key = await db.SiteKeys.AsNoTracking().SingleAsync(k => k.Sha256 == hash, Ct);
        Assert.Equal((await db.Sites.SingleAsync(s => s.Code == Places.LeakingSite, Ct)).Id, key.SiteId);
        Assert.True(key.Demonstration && await db.Users.AllAsync(p => p.Demonstration, Ct));
        Assert.True(await db.Installations.AllAsync(i => i.Demonstration, Ct));
        Assert.NotNull(await bed.App.Services.GetRequiredService<FindSiteKey>().ForAsync(LoadDemoRegion.SiteKeyOf(Places.LeakingSite)));
        Assert.Null(await scope.ServiceProvider.GetRequiredService<FindSiteKey>().ForAsync(LoadDemoRegion.SiteKeyOf(Places.LeakingSite)));
    }
}
