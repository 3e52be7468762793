using System.Net;
using System.Text;
using Registry.Records;
using Registry.Tests.Intake;
using Registry.Tests.Intake.HeldRows;

namespace Registry.Tests.Claims;

/// <summary>What is answered a second time, to whom it was not said the first: keys of other senders, the outcomes of their submissions,
/// the marks of their rejected rows.</summary>
public sealed class GuessedRepliesTests(TestDatabase database)
{
    private const string Guess = "kind,card_id,ear,outcome,method,performed_at\n";
    private static readonly ParallelOptions AtOnce = new() { MaxDegreeOfParallelism = 8 };

    /// <summary>A key is its sender's own. The one that replays another's gets no answer of the other's, but that of what it sent; and its
    /// own key with other content says that the key was used, whatever card the content guesses.</summary>
    [Fact]
    public async Task A_key_replayed_says_nothing_of_anothers_submission_nor_of_other_content()
    {
        await using var scene = await GuessedCards.StartAsync(database);
        var body = $"{Guess}screening,{GuessedCards.Card(true, 7)},right,pass,aabr,2026-11-03T08:00\n";
        // The harbour sent this same body, with as many keys.
        await scene.Bed.ReceiveAsync(body, key: "known");
        await scene.Bed.App.AsOwnerAsync(
            $"""
            insert into submissions select n.* from submissions s, generate_series(0, {GuessedCards.Infants - 1}) i,
              jsonb_populate_record(s, jsonb_build_object('id', gen_random_uuid(), 'idempotency_key', 'known-' || i)) n
             where s.idempotency_key = 'known'
            """);
        using var client = await scene.ClientAsync();
        var told = await SendAsync(client, body, null);
        Assert.Contains("no_such_infant", told, StringComparison.Ordinal);
        var again = await SendAsync(client, body, null); // and from now on it waits already
        await Parallel.ForAsync(0, GuessedCards.Infants, AtOnce, async (i, _) =>
        {
            Assert.Equal(again, await SendAsync(client, body, $"known-{i}"));
            Assert.Equal(again, await SendAsync(client, body, $"free-{i}"));
            // Its own keys now, with the card somebody has, and with the one nobody has.
            var (hit, miss) = (await SendAsync(client, Test(true, i), $"known-{i}"), await SendAsync(client, Test(false, i), $"free-{i}"));
            Assert.StartsWith("UnprocessableEntity ", hit, StringComparison.Ordinal);
            Assert.Equal(miss, hit);
        });
        await scene.NothingGotInAsync();
        await scene.TellAsync("key of another's submission, same content", GuessedCards.Infants);
        await scene.TellAsync("own key, other content", GuessedCards.Infants);

        static string Test(bool exists, int i) => $"{Guess}screening,{GuessedCards.Card(exists, i)},left,pass,aabr,2026-11-03T08:00\n";
    }

    [Fact]
    public async Task Another_senders_submission_reads_like_one_that_does_not_exist()
    {
        await using var scene = await GuessedCards.StartAsync(database);
        var theirs = await scene.Bed.SendAsync(Guess + "screening,BS-700001,up,pass,aabr,2026-11-03T08:00\n" // rejected
            + "screening,BS-700002,right,pass,aabr,2026-11-03T08:00\n"); // held
        using var key = await scene.ClientAsync();
        var manager = await SignedIn.AsAsync(scene.Bed, Role.SiteManager, scene.Stranger);
        (HttpClient Client, string Path)[] doors =
        [
            (key, "/api/v1/submissions/{0}"), (key, "/api/v1/submissions/{0}/rows"), (key, "/api/v1/submissions/{0}/rejected"),
            (key, "/api/v1/submissions/{0}/acknowledgement"), (key, "/api/v1/submissions/{0}/rows?outcome=rejected"),
            (manager, "/submissions/{0}"), (manager, "/submissions/{0}?handler=Raw"), (manager, "/submissions/{0}?handler=Rejected"),
            (manager, "/submissions/{0}/rows/1"), (manager, "/submissions/{0}/rows/2"),
        ];
        await Parallel.ForAsync(0, GuessedCards.Infants, AtOnce, async (i, ct) =>
        {
            var (client, path) = doors[i % doors.Length];
            var (hit, miss) = (await GetAsync(theirs.ToString()), await GetAsync(Guid.CreateVersion7().ToString()));
            Assert.Equal(HttpStatusCode.NotFound, hit.Code);
            Assert.Equal(miss, hit);

            async Task<(HttpStatusCode Code, string Body)> GetAsync(string id)
            {
                using var answer = await client.GetAsync(string.Format(null, path, id), ct);
                return (answer.StatusCode, GuessedCards.Plain(await answer.Content.ReadAsStringAsync(ct)));
            }
        });
        var token = await SignedIn.TokenAsync(manager, "/submissions/new");
        foreach (var handler in new[] { "Retry", "Correct", "Match", "Both", "New", "Find", "Discard", "TakeBack" })
        {
            using var form = new FormUrlEncodedContent([new("__RequestVerificationToken", token)]);
            using var answer = await manager.PostAsync($"/submissions/{theirs}/rows/2?handler={handler}", form, IntakeBed.Ct);
            Assert.True(answer.StatusCode == HttpStatusCode.NotFound || WaitingRowsForms.IsDenied(answer),
                $"{handler} {answer.StatusCode}");
        }

        await scene.TellAsync("outcomes, rejected rows and pages of another's submission", GuessedCards.Infants);
    }

    /// <summary>A row that says it is another site's rejected row come back closes nothing and learns nothing of what was wrong with
    /// it.</summary>
    [Fact]
    public async Task The_mark_of_anothers_rejected_row_closes_nothing()
    {
        await using var scene = await GuessedCards.StartAsync(database);
        var theirs = await scene.Bed.SendAsync(Guess + string.Concat(Enumerable.Range(0, GuessedCards.Infants).Select(i =>
            $"screening,{GuessedCards.Card(true, i)},up,pass,aabr,2026-11-03T08:00\n")));
        const string rejected = "submission_rows where outcome = 'rejected' and discarded_at is null";
        Assert.Equal(GuessedCards.Infants, await scene.Bed.CountAsync(rejected));
        using var client = await scene.ClientAsync();
        for (var from = 0; from < GuessedCards.Infants; from += 1_000)
        {
            var hit = await SendAsync(client, Marked(theirs.ToString(), "BS-9", from), null);
            var miss = await SendAsync(client, Marked(Guid.CreateVersion7().ToString(), "BS-8", from), null);
            Assert.Contains("no_such_infant", hit, StringComparison.Ordinal);
            Assert.Equal(miss, hit);
        }

        Assert.Equal(GuessedCards.Infants, await scene.Bed.CountAsync(rejected));
        await scene.NothingGotInAsync();
        await scene.TellAsync("marks of another's rejected rows", GuessedCards.Infants);

        static string Marked(string id, string cards, int from) => "kind,card_id,ear,outcome,method,performed_at,problems\n"
            + string.Concat(Enumerable.Range(from, 1_000).Select(i => FormattableString.Invariant(
                $"screening,{cards}{i:00000},right,pass,aabr,2026-11-03T08:00,ear is wrong [row {i + 1} of {id}]\n")));
    }

    private static async Task<string> SendAsync(HttpClient client, string body, string? key)
    {
        using var request = new HttpRequestMessage(HttpMethod.Post, "/api/v1/submissions");
        request.Content = new StringContent(body, Encoding.UTF8, "text/csv");
        if (key is not null) request.Headers.Add("Idempotency-Key", key);
        using var answer = await client.SendAsync(request, IntakeBed.Ct);
        return $"{answer.StatusCode} {GuessedCards.Plain(await answer.Content.ReadAsStringAsync(IntakeBed.Ct))}";
    }
}
