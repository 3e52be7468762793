using System.Net;
using System.Text;

namespace Registry.Tests.Intake.Receiving;

/// <summary>Small bodies share a transaction: what its end means for each answer.</summary>
public sealed class ShareCommitTests(TestDatabase database)
{
    [Fact]
    public async Task What_could_not_be_committed_is_not_acknowledged()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await RefuseAtCommitAsync(bed, 1_000);
        using var client = await bed.ClientAsync(bed.Harbour);
        for (var i = 0; i < 3; i++)
            Assert.Equal(HttpStatusCode.InternalServerError, (await PostAsync(client, i)).StatusCode);
        Assert.Equal(0, await bed.CountAsync("submissions"));
        Assert.Equal(0, await bed.CountAsync("births"));
    }

    [Fact]
    public async Task What_could_not_be_committed_together_goes_alone()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await RefuseAtCommitAsync(bed, 1);
        using var client = await bed.ClientAsync(bed.Harbour);
        using var answer = await PostAsync(client, 1);
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        Assert.Contains("\"accepted\":1", await answer.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Equal(1, await bed.CountAsync("submissions where state = 'done'"));
        Assert.Equal(1, await bed.CountAsync("births"));
    }

    /// <summary>The first so many commits of a submission fail, as they do when a disk is full.</summary>
    private static Task<int> RefuseAtCommitAsync(IntakeBed bed, int times) => bed.App.AsOwnerAsync(
            $"""
            create sequence commits;
            grant usage on sequence commits to public;
            create function refuse() returns trigger language plpgsql as 'begin if nextval(''commits'') <= {times} then raise exception ''refused at commit''; end if; return null; end';
            create constraint trigger refuse_at_commit after insert on submissions deferrable initially deferred for each row execute function refuse();
            """);

    private static Task<HttpResponseMessage> PostAsync(HttpClient client, int infant) => client.PostAsync(
        "/api/v1/submissions",
        new StringContent($$"""{"rows":[{"kind":"birth","record_number":"T{{infant}}","birth_date":"2026-11-01","sex":"female"}]}""", Encoding.UTF8, "application/json"),
        IntakeBed.Ct);
}
