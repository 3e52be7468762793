using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Registry.Infants.Statuses;
using Registry.Records;
using Registry.Reporting.Measures;
using Registry.Tests.Intake;

namespace Registry.Tests.Infants;

/// <summary>What looking at past days may cost: it fills neither the disk nor the processors, however often it is asked.</summary>
public sealed class PastDaysTests(TestDatabase database)
{
    private static readonly Uri Other = new("/infants?asOf=2026-11-01", UriKind.Relative);

    [Fact]
    public async Task Who_asks_for_a_day_at_the_same_moment_shares_its_computation()
    {
        await using var bed = await StartAsync();
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var answers = await Task.WhenAll(Enumerable.Range(0, 12).Select(_ => client.GetAsync(Other, IntakeBed.Ct)));
        Assert.All(answers, a => Assert.Equal(HttpStatusCode.OK, a.StatusCode));
        Assert.Equal(1, await bed.CountAsync("status_snapshots"));
        // A second process on the same database finds it, or waits for it.
        await using var second = RegistryApp.On(bed.App.Logins.Owner!);
        Assert.Equal(await RelationAsync(bed.App, new(2026, 11, 1)), await RelationAsync(second, new(2026, 11, 1)));
        var both = await Task.WhenAll(RelationAsync(bed.App, new(2026, 11, 2)), RelationAsync(second, new(2026, 11, 2)));
        Assert.Equal(both[0], both[1]);
        Assert.Equal(2, await bed.CountAsync("status_snapshots"));
    }

    [Fact]
    public async Task Two_hundred_different_days_fill_no_more_than_the_budget()
    {
        await using var bed = await StartAsync(new() { ["Infants:SnapshotRows"] = "10", ["Infants:NewDaysPerHour"] = "1000" });
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var refused = 0;
        for (var day = new DateOnly(2026, 11, 24); day > new DateOnly(2026, 11, 24).AddDays(-200); day = day.AddDays(-1))
        {
            using var answer = await client.GetAsync(new Uri($"/infants?asOf={day:yyyy-MM-dd}", UriKind.Relative), IntakeBed.Ct);
            if (answer.StatusCode == HttpStatusCode.TooManyRequests)
            {
                refused++;
                Assert.NotNull(answer.Headers.RetryAfter);
            }
            else if (answer.StatusCode != HttpStatusCode.BadRequest)
            {
                Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
            }
        }

        Assert.True(refused > 0);
        Assert.InRange(await bed.CountAsync("infant_status_snapshot"), 1, 10);

        // What nobody looks at any more makes room, the longest unused first; what is looked at stays.
        await bed.ListAsync("update status_snapshots set used_at = used_at - interval '1 day' * (as_of - date '2026-01-01')");
        await bed.ListAsync("update status_snapshots set used_at = now() + interval '1 day' where as_of = '2026-11-24'");
        using var again = await client.GetAsync(Other, IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.OK, again.StatusCode);
        Assert.Equal(["2026-11-01", "2026-11-24"], (await bed.ListAsync("select as_of::text from status_snapshots order by as_of"))
            .Where(d => d is "2026-11-01" or "2026-11-24"));
        Assert.InRange(await bed.CountAsync("infant_status_snapshot"), 1, 10);
    }

    [Fact]
    public async Task One_person_may_ask_for_so_many_new_days_and_keeps_those_it_saw()
    {
        await using var bed = await StartAsync(new() { ["Infants:NewDaysPerHour"] = "3" });
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        for (var day = 1; day <= 3; day++)
            Assert.Equal(HttpStatusCode.OK, (await client.GetAsync(Day(day), IntakeBed.Ct)).StatusCode);
        using var refused = await client.GetAsync(Day(4), IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.TooManyRequests, refused.StatusCode);
        Assert.InRange(refused.Headers.RetryAfter!.Delta!.Value.TotalSeconds, 1, 1_200);
        Assert.Contains("Too many different days", await refused.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        using var kept = await client.GetAsync(Day(2), IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.OK, kept.StatusCode);
        using var export = await client.GetAsync(
            new Uri("/api/v1/export/statuses?asOf=2026-11-05", UriKind.Relative), IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.TooManyRequests, export.StatusCode);
        Assert.Equal("application/problem+json", export.Content.Headers.ContentType!.MediaType);

        // Another person is not held up by it.
        using var other = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var served = await other.GetAsync(Day(4), IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.OK, served.StatusCode);

        static Uri Day(int day) => new($"/infants?asOf=2026-11-0{day}", UriKind.Relative);
    }

    [Fact]
    public async Task Figures_of_a_past_day_are_computed_once_for_all_who_ask_and_limited_for_each()
    {
        await using var bed = await StartAsync(new() { ["Infants:NewDaysPerHour"] = "2" });
        var (one, other) = (await SignedIn.AsAsync(bed, Role.Coordinator, null), await SignedIn.AsAsync(bed, Role.Coordinator, null));
        var keep = bed.App.Services.GetRequiredService<KeepFigures>();
        var answers = await Task.WhenAll(Enumerable.Range(0, 12).Select(i => (i % 2 == 0 ? one : other).GetStringAsync(
            Figures("2026-11-01"), IntakeBed.Ct)));
        Assert.Single(answers.Distinct());
        Assert.Equal(1, keep.Computed);

        // The page, the standard's interface and what may be released ask in the same place.
        Assert.Equal(HttpStatusCode.OK, await StatusAsync(one, "/reports?from=2026-01-01&to=2026-11-01&asOf=2026-11-01"));
        Assert.Equal(1, keep.Computed);
        Assert.Equal(HttpStatusCode.OK, (await other.GetAsync(Figures("2026-11-02"), IntakeBed.Ct)).StatusCode);

        // One person has so many new questions an hour, whoever computed the first one.
        await one.GetAsync(Figures("2026-11-03"), IntakeBed.Ct);
        await one.GetAsync(Figures("2026-11-04"), IntakeBed.Ct);
        foreach (var path in new[]
        {
            Figures("2026-11-05"), "/reports?asOf=2026-11-05", "/api/v1/export/facts?asOf=2026-11-05",
            "/api/v1/measures?from=2026-01-01&to=2026-11-01&knownAt=2026-11-05",
            "/reports/infants?line=births&from=2026-01-01&to=2026-11-01&asOf=2026-11-05",
        })
            Assert.True(await StatusAsync(one, path) == HttpStatusCode.TooManyRequests, path);
        // What is counted of sites is kept for every day, and computes nothing.
        Assert.Equal(HttpStatusCode.OK, await StatusAsync(one, "/sites?asOf=2026-11-05"));
        Assert.Equal(HttpStatusCode.OK, await StatusAsync(one, Figures("2026-11-01")));
        Assert.Equal(HttpStatusCode.OK, await StatusAsync(one, Figures("2026-11-25")));

        static string Figures(string day) => $"/api/v1/measures?from=2026-01-01&to=2026-11-01&asOf={day}";
    }

    [Theory]
    [InlineData("/api/v1/measures?asOf=1999-01-01")]
    [InlineData("/api/v1/export/facts?asOf=1999-01-01")]
    [InlineData("/api/v1/export/statuses?asOf=1999-01-01")]
    [InlineData("/reports?asOf=1999-01-01")]
    public async Task Figures_of_a_day_before_the_first_birth_are_refused(string path)
    {
        await using var bed = await StartAsync();
        Assert.Equal(HttpStatusCode.BadRequest, await StatusAsync(await SignedIn.AsAsync(bed, Role.Coordinator, null), path));
    }

    private static async Task<HttpStatusCode> StatusAsync(HttpClient client, string path)
    {
        using var answer = await client.GetAsync(new Uri(path, UriKind.Relative), IntakeBed.Ct);
        return answer.StatusCode;
    }

    [Theory]
    [InlineData("/sites?asOf=1949-12-31")]
    [InlineData("/follow-up?asOf=1990-01-01")]
    [InlineData("/?asOf=2025-12-31")]
    public async Task A_day_before_the_first_birth_is_refused_in_words(string page)
    {
        await using var bed = await StartAsync();
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var answer = await client.GetAsync(new Uri(page, UriKind.Relative), IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.BadRequest, answer.StatusCode);
        Assert.Contains("That day is too early", await answer.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("status_snapshots"));
    }

    /// <summary>A day no registry has is refused before anything is asked.</summary>
    [Theory]
    [InlineData("/infants?asOf=0001-01-01")]
    [InlineData("/?asOf=0001-01-01")]
    public async Task A_day_no_registry_has_is_refused(string page)
    {
        await using var bed = await StartAsync();
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var answer = await client.GetAsync(new Uri(page, UriKind.Relative), IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.BadRequest, answer.StatusCode);
        Assert.Equal(0, await bed.CountAsync("status_snapshots"));
    }

    /// <summary>Three infants, the first born in May.</summary>
    private async Task<IntakeBed> StartAsync(Dictionary<string, string?>? settings = null)
    {
        var bed = await IntakeBed.StartAsync(database, settings);
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,1,2026-05-03,female\nbirth,2,2026-06-01,male\nbirth,3,2026-07-01,male\n",
            at: new(2026, 7, 2, 0, 0, 0, TimeSpan.Zero));
        return bed;
    }

    private static async Task<string> RelationAsync(RegistryApp app, DateOnly day) =>
        (await app.Services.GetRequiredService<StatusSource>().AsOfAsync(day, IntakeBed.Ct)).Relation;
}
