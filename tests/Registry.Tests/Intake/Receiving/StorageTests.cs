using System.Net;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Intake.Receiving;
using Registry.Records;

namespace Registry.Tests.Intake.Receiving;

/// <summary>What a sender can leave behind: a site stores so much, and what was refused goes after a while.</summary>
public sealed class StorageTests(TestDatabase database)
{
    private const string Sound = "kind,record_number,birth_date,sex\nbirth,1,2026-11-01,female\n";

    [Fact]
    public async Task A_site_that_stored_what_it_may_is_told_so_loses_nothing_and_holds_up_nobody()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:BytesPerSite"] = "1000" });
        using var client = await bed.ClientAsync(bed.Harbour);
        using var other = await bed.ClientAsync(bed.Hill);
        client.DefaultRequestHeaders.Add("Idempotency-Key", "first");
        Assert.Equal(HttpStatusCode.OK, (await client.SendAsync(Encoding.UTF8.GetBytes(Sound))).Status);
        client.DefaultRequestHeaders.Remove("Idempotency-Key");

        // A refused file counts too: it is stored.
        Assert.Equal(HttpStatusCode.BadRequest, (await client.SendAsync(Encoding.UTF8.GetBytes(new string('x', 900)))).Status);
        foreach (var body in (byte[][])[Encoding.UTF8.GetBytes(Sound), new byte[100_000]])
        {
            var (status, answer, _) = await client.SendAsync(body);
            Assert.Equal((HttpStatusCode.InsufficientStorage, "The storage of this site is full"), (status, answer["title"]!.ToString()));
            Assert.Contains("nothing of this was stored", answer.ToString(), StringComparison.Ordinal);
        }

        Assert.Equal(2, await bed.CountAsync("submissions"));
        Assert.Equal(1, await bed.CountAsync("births"));

        // What was acknowledged is answered as before, and another site is served.
        client.DefaultRequestHeaders.Add("Idempotency-Key", "first");
        Assert.Equal(HttpStatusCode.OK, (await client.SendAsync(Encoding.UTF8.GetBytes(Sound))).Status);
        Assert.Equal(HttpStatusCode.OK, (await other.SendAsync(Encoding.UTF8.GetBytes(Sound))).Status);
    }

    [Fact]
    public async Task The_bytes_of_a_refused_file_are_deleted_after_a_while_and_no_others()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.DecidePolicyAsync(p => p with { RefusedFileDays = 30 });
        var now = DateTimeOffset.UtcNow;
        var sound = await bed.SendAsync(Sound, at: bed.Now.AddDays(-90));
        var old = await bed.ReceiveAsync("no columns of ours\n", at: bed.Now.AddDays(-40));
        var young = await bed.ReceiveAsync("nor are these\n", at: bed.Now.AddDays(-20));
        Assert.Equal((ReceiptKind.Refused, ReceiptKind.Refused), (old.Kind, young.Kind));

        Assert.Equal("the bytes of 1 refused files deleted", await PurgeAsync(bed));
        Assert.Equal("the bytes of 0 refused files deleted", await PurgeAsync(bed));
        Assert.Equal(
            new[] { sound.Value, young.Id.Value }.Select(id => id.ToString()).Order(),
            (await bed.ListAsync("select submission_id from submission_chunks")).Order());
        // That it was sent, and why it was refused, stays.
        Assert.Equal(["refused"], await bed.ListAsync("select state from submissions where id = $1 and refusal is not null", old.Id.Value));
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var page = await client.GetAsync(new Uri($"/submissions/{old.Id}", UriKind.Relative), IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.OK, page.StatusCode);
        using var gone = await client.GetAsync(new Uri($"/submissions/{old.Id}?handler=Raw", UriKind.Relative), IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.Gone, gone.StatusCode);
        Assert.Contains("no longer kept", await gone.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);

        // The database itself lets nothing else go, whatever is asked of it.
        await bed.ListAsync("update submissions set finished_at = now() - interval '6 days' where id = $1", young.Id.Value);
        await bed.ListAsync("select purge_refused_bytes($1, 1000)", now.AddYears(10));
        foreach (var kept in (Guid[])[sound.Value, young.Id.Value])
        {
            await Assert.ThrowsAsync<PostgresException>(() => bed.ListAsync("delete from submission_chunks where submission_id = $1", kept));
            await Assert.ThrowsAsync<PostgresException>(() => bed.ListAsync(
                "do $$ begin perform set_config('registry.purging', 'on', true); "
                + $"delete from submission_chunks where submission_id = '{kept}'; end $$"));
        }

        await Assert.ThrowsAsync<PostgresException>(() => bed.ListAsync("truncate submission_chunks"));
        await Assert.ThrowsAsync<PostgresException>(() => bed.ListAsync("update submission_chunks set bytes = ''"));
        Assert.Contains(sound.Value.ToString(), await bed.ListAsync("select submission_id from submission_chunks"));
    }

    private static Task<string> PurgeAsync(IntakeBed bed) =>
        bed.App.Services.GetRequiredService<PurgeRefused>().RunAsync(IntakeBed.Ct);
}
