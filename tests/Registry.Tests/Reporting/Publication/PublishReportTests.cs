using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Records;
using Registry.Reporting.Measures;
using Registry.Reporting.Publication;
using Registry.Rules.Measures;
using Registry.Tests.Intake;
using Registry.Tests.Reporting.Measures;

namespace Registry.Tests.Reporting.Publication;

/// <summary>A figure can be computed as it was known on any past day, and a published report gives the same numbers for good.</summary>
public sealed class PublishReportTests(TestDatabase database)
{
    private const string Births =
        """
        kind,record_number,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date,discharged_on
        birth,A-1,2026-03-02,female,Ada,Marlow,1995-02-03,2026-03-04
        birth,A-2,2026-03-03,male,Bea,Norwood,1996-04-05,2026-03-05

        """;

    private const string Screens =
        """
        kind,record_number,ear,outcome,method,performed_at
        screening,A-1,right,pass,aabr,2026-03-03T09:15
        screening,A-1,left,pass,aabr,2026-03-03T09:20
        screening,A-2,right,refer,aabr,2026-03-04T09:15
        screening,A-2,left,pass,aabr,2026-03-04T09:20

        """;

    private static readonly DateTimeOffset April = new(2026, 4, 2, 12, 0, 0, TimeSpan.Zero);
    private static readonly DateTimeOffset May = new(2026, 5, 20, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task The_same_question_asked_as_known_then_and_as_known_now()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Births, at: April);
        await bed.SendAsync(Screens, at: May); // reported late: screened in March, known in May
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);

        Assert.Equal(0, (await client.MeasuresAsync("from=2026-03-01&to=2026-03-31&asOf=2026-04-30")).Count("screening.screened"));
        Assert.Equal(2, (await client.MeasuresAsync("from=2026-03-01&to=2026-03-31&asOf=2026-04-30&knownAt=2026-05-31"))
            .Count("screening.screened"));
        Assert.Equal(1, (await client.MeasuresAsync("from=2026-03-01&to=2026-03-31&asOf=2026-03-03&knownAt=2026-05-31"))
            .Count("screening.screened"));
        Assert.Equal(0, (await client.MeasuresAsync("from=2026-03-01&to=2026-03-31&asOf=2026-04-30&knownAt=2026-04-01")).Count("births"));
    }

    [Fact]
    public async Task A_published_report_run_again_after_late_reports_and_corrections_gives_every_count_as_published()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Births, at: April);
        var (id, _) = await PublishAsync(bed, April.AddDays(1));
        await bed.SendAsync(Screens, at: May);
        await bed.SendAsync("kind,record_number,birth_date,sex,mother_family_name,discharged_on\nbirth,A-2,2026-03-03,male,Norwood,2026-03-06\n", at: May);

        var again = await RunAsync(bed, p => p.RerunAsync(id, IntakeBed.Ct));
        Assert.True(again!.Same, string.Join('\n', again.Differences.Cast<object>().Concat(again.Why.Cast<object>())));
        Assert.True(again.LinesCompared > 150);
        Assert.Empty(again.Why);
    }

    [Fact]
    public async Task A_figure_that_changed_is_told_with_its_cause()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var (id, _) = await PublishAndChangeAsync(bed);
        var again = await RunAsync(bed, p => p.RerunAsync(id, IntakeBed.Ct));
        Assert.False(again!.Same);
        Assert.Contains(again.Differences, d => d is { Line: "screening.not_pass", Published: 1, Now: 0 });
        var why = Assert.Single(again.Why);
        Assert.Equal(ChangedSince.Facts, why);
        Assert.Contains("facts", PublicationWords.Of(why, again.Report));
    }

    [Fact]
    public async Task The_page_of_a_report_shows_what_changed()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var (id, published) = await PublishAndChangeAsync(bed);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = $"/reports/published/{id}";
        var token = await SignedIn.TokenAsync(client, page);
        var answer = await client.PostAsync(page, new FormUrlEncodedContent([new("__RequestVerificationToken", token)]), IntakeBed.Ct);
        Assert.Contains("differ from what was published", await answer.Content.ReadAsStringAsync(IntakeBed.Ct));
        Assert.Contains(published.Title, await client.GetStringAsync("/reports/published", IntakeBed.Ct));
    }

    [Fact]
    public async Task A_published_report_cannot_be_edited()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await PublishAsync(bed, April.AddDays(1));
        await Assert.ThrowsAsync<PostgresException>(() => bed.App.AsOwnerAsync("update published_reports set title = 'another'"));
    }

    /// <summary>A report published, and then a fact it counted said never to have held.</summary>
    private static async Task<(Guid Id, PublishedReport Report)> PublishAndChangeAsync(IntakeBed bed)
    {
        await bed.SendAsync(Births, at: April);
        await bed.SendAsync(Screens, at: April);
        var published = await PublishAsync(bed, April.AddDays(1));
        await using var undo = bed.Source.CreateCommand("update screenings set superseded_at = recorded_at where outcome = 'refer'");
        await undo.ExecuteNonQueryAsync(IntakeBed.Ct);
        return published;
    }

    private static async Task<(Guid Id, PublishedReport Report)> PublishAsync(IntakeBed bed, DateTimeOffset known)
    {
        var person = await bed.AddPersonAsync(Role.Coordinator);
        var request = new MeasureRequest(new(2026, 3, 1), new(2026, 3, 31), new(2026, 4, 3), known, Breakdown.County, 5);
        var report = await RunAsync(bed, p => p.PublishAsync(request, "March births", person.Id, IntakeBed.Ct));
        return (report.Id, report);
    }

    private static async Task<T> RunAsync<T>(IntakeBed bed, Func<PublishReport, Task<T>> run)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        return await run(scope.ServiceProvider.GetRequiredService<PublishReport>());
    }
}
