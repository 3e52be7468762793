using System.Collections.Concurrent;
using System.Diagnostics;
using System.Net;
using System.Net.Http.Headers;
using System.Text;
using System.Text.RegularExpressions;
using Hl7.Fhir.Model;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Intake.Receiving;
using Registry.Records;
using Registry.Tests.Fhir;
using Registry.Tests.Intake;
using Registry.Tests.Intake.Formats;
using Registry.Tests.Intake.HeldRows;
using Task = System.Threading.Tasks.Task;

namespace Registry.Tests.Claims;

/// <summary>
/// A site that has nothing to do with any of the infants tries 10,000 card ids that exist, over each door, and 10,000 of the same form
/// that nobody has. Nothing gets in, and what it is told is the same to the letter.
/// </summary>
public sealed class GuessedCardsTests(TestDatabase database)
{
    private const int AtOnce = 1_000;
    private static int Guesses => GuessedCards.Infants;
    private const string Wards = """{"columns":[{"header":"card","field":"card_id"},{"header":"side","field":"ear"},{"header":"found","field":"outcome"},{"header":"how","field":"method"},{"header":"when","field":"performed_at"}],"fixed":{"kind":"screening"}}""";

    [Theory]
    [InlineData("csv", "")]
    [InlineData("json", "")]
    [InlineData("ndjson", "")]
    [InlineData("xlsx", "")]
    [InlineData("csv", "?dry_run=true")]
    [InlineData("json", "?dry_run=true")]
    public async Task Files_of_guesses_open_nothing_and_tell_nothing(string format, string query)
    {
        await using var scene = await GuessedCards.StartAsync(database);
        using var client = await scene.ClientAsync();
        for (var from = 0; from < Guesses; from += AtOnce)
        {
            var (hit, miss) = (await PostAsync(client, format, query, true, from), await PostAsync(client, format, query, false, from));
            AssertWaits(hit);
            Assert.Equal(GuessedCards.Plain(miss), GuessedCards.Plain(hit));
        }

        await scene.NothingGotInAsync();
        await scene.TellAsync($"{format}{query}", Guesses);
    }

    /// <summary>A contact says nothing of the child, and was enough to open its record.</summary>
    [Fact]
    public async Task Contacts_about_guessed_cards_open_nothing()
    {
        await using var scene = await GuessedCards.StartAsync(database);
        using var client = await scene.ClientAsync();
        for (var from = 0; from < Guesses; from += AtOnce)
        {
            var hit = await PostAsync(client, Contacts(true, from), "text/csv");
            var miss = await PostAsync(client, Contacts(false, from), "text/csv");
            AssertWaits(hit);
            Assert.Equal(GuessedCards.Plain(miss), GuessedCards.Plain(hit));
        }

        await scene.NothingGotInAsync();
        await scene.TellAsync("contacts", Guesses);

        static string Contacts(bool exist, int from) => "kind,card_id,step,attempted_on,contact_outcome\n" + string.Concat(
            Enumerable.Range(from, AtOnce).Select(i => $"contact,{GuessedCards.Card(exist, i)},screening,2026-11-10,reached\n"));
    }

    [Fact]
    public async Task Messages_of_guesses_are_answered_alike()
    {
        await using var scene = await GuessedCards.StartAsync(database);
        using var client = await scene.ClientAsync();
        for (var from = 0; from < Guesses; from += AtOnce)
        {
            var hit = await PostAsync(client, Messages(true, from), "application/hl7-v2");
            var miss = await PostAsync(client, Messages(false, from), "application/hl7-v2");
            Assert.Contains("MSA|", hit, StringComparison.Ordinal);
            Assert.Equal(GuessedCards.Plain(miss), GuessedCards.Plain(hit));
        }

        await scene.NothingGotInAsync();
        await scene.TellAsync("HL7 v2", Guesses);
    }

    [Fact]
    public async Task Bundles_of_guesses_are_answered_alike_and_give_no_location()
    {
        await using var scene = await GuessedCards.StartAsync(database);
        using var client = await scene.ClientAsync();
        for (var from = 0; from < Guesses; from += AtOnce)
        {
            var hit = FhirBed.Json((await client.SendAsync(Results(true, from))).Body);
            var miss = FhirBed.Json((await client.SendAsync(Results(false, from))).Body);
            Assert.Contains("202", hit, StringComparison.Ordinal);
            Assert.DoesNotContain("location", hit, StringComparison.Ordinal);
            Assert.Equal(GuessedCards.Plain(miss), GuessedCards.Plain(hit));
        }

        await scene.NothingGotInAsync();
        await scene.TellAsync("FHIR", Guesses);
    }

    /// <summary>The stranger's own births state a card somebody has: each becomes an infant of its own, and reads back alike.</summary>
    [Fact]
    public async Task A_birth_that_states_somebodys_card_becomes_another_infant_and_says_nothing_of_the_first()
    {
        await using var scene = await GuessedCards.StartAsync(database);
        using var client = await scene.ClientAsync();
        for (var i = 0; i < 25; i++)
        {
            var told = new List<string>();
            foreach (var exists in new[] { true, false })
            {
                var card = GuessedCards.Card(exists, i);
                using var request = new HttpRequestMessage(HttpMethod.Post, "/fhir/Patient")
                {
                    Content = new StringContent(FhirBed.Json(FhirBed.Patient($"N{i}-{exists}", "2026-11-20", card)), Encoding.UTF8,
                        new MediaTypeHeaderValue("application/fhir+json")),
                };
                request.Headers.Add("If-None-Exist", $"identifier=urn:x-registry:card-id|{card}");
                using var answer = await client.SendAsync(request, IntakeBed.Ct);
                Assert.Equal(HttpStatusCode.Created, answer.StatusCode);
                var everything = FhirBed.Json((await client.ReadAsync($"{answer.Headers.Location}/$everything")).Body);
                var body = await answer.Content.ReadAsStringAsync(IntakeBed.Ct);
                told.Add(GuessedCards.Plain($"{answer.Headers.Location} {body} {everything}")
                    .Replace($"N{i}-{exists}", "#number", StringComparison.Ordinal));
            }

            Assert.Contains("#card", told[0], StringComparison.Ordinal);
            Assert.Equal(told[1], told[0]);
        }

        // A coordinator is told that two infants have one card; nobody else.
        var coordinator = await SignedIn.AsAsync(scene.Bed, Role.Coordinator, null);
        var first = (await scene.Bed.ListAsync("select infant_id from births where mother_family_key = 'MARLOW3'"))[0];
        Assert.Contains(
            "the same blood-spot card", await coordinator.GetStringAsync($"/infants/{first}", IntakeBed.Ct), StringComparison.Ordinal);
        var harbour = await SignedIn.AsAsync(scene.Bed, Role.SiteManager, scene.Bed.Harbour);
        Assert.DoesNotContain(
            "the same blood-spot card", await harbour.GetStringAsync($"/infants/{first}", IntakeBed.Ct), StringComparison.Ordinal);

        // Whose card it was still has it, and its own site still finds it by that alone.
        Assert.Equal(GuessedCards.Infants,
            await scene.Bed.CountAsync($"births where site_id = '{scene.Bed.Harbour.Value}' and superseded_at is null"));
        await scene.Bed.SendAsync(
            $"kind,card_id,ear,outcome,method,performed_at\nscreening,{GuessedCards.Card(true, 3)},right,pass,aabr,2026-11-05T09:00\n");
        Assert.Equal(1, await scene.Bed.CountAsync(
            "screenings s join births b using (infant_id) where s.performed_at = '2026-11-05T09:00' and b.mother_family_key = 'MARLOW3'"));
    }

    [Fact]
    public async Task Uploads_their_outcome_pages_and_the_pages_of_held_rows_say_the_same()
    {
        await using var scene = await GuessedCards.StartAsync(database);
        var manager = await SignedIn.AsAsync(scene.Bed, Role.SiteManager, scene.Stranger);
        var pages = new List<string>[] { [], [] };
        for (var from = 0; from < Guesses; from += AtOnce)
        {
            foreach (var (which, exist) in new[] { (0, true), (1, false) })
            {
                var answer = await UploadAsync(manager, GuessedCards.Tests(exist, AtOnce, from));
                Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
                var path = answer.Headers.Location!.OriginalString;
                pages[which].Add(await manager.GetStringAsync(path, IntakeBed.Ct));
                if (from > 0) continue;
                for (var row = 1; row <= 20; row++) pages[which].Add(await manager.GetStringAsync($"{path}/rows/{row}", IntakeBed.Ct));
                foreach (var row in new[] { 3, 5, 8 })
                {
                    var page = $"{path}/rows/{row}";
                    pages[which].Add(await SaidAsync(manager, await WaitingRowsForms.PostAsync(manager, page, "Retry")));
                    pages[which].Add(await SaidAsync(manager, await WaitingRowsForms.PostAsync(
                        manager, page, "Correct", null, ("Values[card_id]", GuessedCards.Card(exist, 400 + row)))));
                }
            }
        }

        Assert.Equal(pages[1].Count, pages[0].Count);
        foreach (var (hit, miss) in pages[0].Zip(pages[1])) Assert.Equal(Page(miss), Page(hit));
        await scene.NothingGotInAsync();
        await scene.TellAsync("page upload, outcome and held-row pages", Guesses);
    }

    [Fact]
    public async Task A_column_mapping_is_no_way_around()
    {
        await using var scene = await GuessedCards.StartAsync(database);
        await scene.Bed.AddMappingAsync("wards", Wards, scene.Stranger);
        using var client = await scene.ClientAsync();
        for (var from = 0; from < Guesses; from += AtOnce)
        {
            var hit = await PostAsync(client, Mapped(true, from), "text/csv", "?mapping=wards");
            var miss = await PostAsync(client, Mapped(false, from), "text/csv", "?mapping=wards");
            AssertWaits(hit);
            Assert.Equal(GuessedCards.Plain(miss), GuessedCards.Plain(hit));
        }

        await scene.NothingGotInAsync();
        await scene.TellAsync("mapping", Guesses);

        static string Mapped(bool exist, int from) => GuessedCards.Tests(exist, AtOnce, from)
            .Replace("kind,card_id,ear,outcome,method,performed_at", "card,side,found,how,when", StringComparison.Ordinal)
            .Replace("screening,", "", StringComparison.Ordinal);
    }

    /// <summary>The same statements run for a card somebody has and for one nobody has, and what they cost is not told apart by the clock:
    /// of pairs of answers about as many are slower as faster. The bound is generous: six standard errors.</summary>
    [Fact]
    public async Task A_guess_costs_the_same_whether_the_card_exists_or_not()
    {
        await using var scene = await GuessedCards.StartAsync(database);
        using var client = await scene.ClientAsync();
        var statements = new ConcurrentQueue<string>();
        var database1 = new NpgsqlConnectionStringBuilder(scene.Bed.App.Logins.Writer).Database;
        using var listener = new ActivityListener
        {
            ShouldListenTo = s => s.Name == "Npgsql",
            Sample = (ref ActivityCreationOptions<ActivityContext> _) => ActivitySamplingResult.AllDataAndRecorded,
            ActivityStopped = a =>
            {
                if (a.TagObjects.Any(t => t.Key is "db.name" or "db.namespace" && (string?)t.Value == database1))
                {
                    statements.Enqueue(
                        (string?)a.TagObjects.FirstOrDefault(t => t.Key is "db.statement" or "db.query.text").Value ?? a.OperationName);
                }
            },
        };
        ActivitySource.AddActivityListener(listener);
        var (hits, misses) = (new List<double>(), new List<double>());
        List<string>? first = null;
        for (var i = 0; i < 60; i++)
        {
            foreach (var exists in i % 2 == 0 ? new[] { true, false } : [false, true])
            {
                statements.Clear();
                var watch = Stopwatch.GetTimestamp();
                var row = $"screening,{GuessedCards.Card(exists, i)},right,pass,aabr,2026-11-03T10:00\n";
                await PostAsync(client, "kind,card_id,ear,outcome,method,performed_at\n" + row, "text/csv");
                if (i < 4) continue;
                (exists ? hits : misses).Add(Stopwatch.GetElapsedTime(watch).TotalMilliseconds);
                // How many cards of a sender led nowhere is read by the clock, every other second, whatever is guessed.
                const string byTheClock = "select rows, last_at from unmatched_counts";
                // The caller's key is found for several requests at once, and that statement may end after the answer; it precedes any look
                // at the card.
                const string whoCalls = "-- Keys in force";
                var ran = statements.Where(q => !q.StartsWith(byTheClock, StringComparison.Ordinal)
                    && !q.StartsWith(whoCalls, StringComparison.Ordinal)).Order();
                first ??= [.. ran];
                Assert.Equal(first, ran);
            }
        }

        Assert.NotEmpty(first!);
        var slower = hits.Sum(h => misses.Count(m => h > m) + misses.Count(m => h == m) / 2.0) / (hits.Count * misses.Count);
        Assert.InRange(slower, .17, .83);
    }

    [Fact]
    public async Task Many_cards_that_lead_nowhere_slow_their_sender_down_at_every_door_and_lose_nothing()
    {
        await using var scene = await GuessedCards.StartAsync(database, allowed: 100);
        using var client = await scene.ClientAsync();
        await PostAsync(client, GuessedCards.Tests(true, 400), "text/csv");
        Assert.Equal(400, await scene.Bed.CountAsync("held_rows"));
        Assert.Equal(400, await scene.Bed.CountAsync($"unmatched_counts where rows = 400 and site_id = '{scene.Stranger.Value}'") * 400);
        // What is known of a sender is two seconds old at most: until then it is let in, with nothing that counts.
        await Eventually.HoldsAsync(async () => await StatusAsync(client, "kind\n") == HttpStatusCode.TooManyRequests);

        using var one = new StringContent(GuessedCards.Tests(true, 1), Encoding.UTF8, "text/csv");
        using var answer = await client.PostAsync("/api/v1/submissions", one, IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.TooManyRequests, answer.StatusCode);
        Assert.InRange(answer.Headers.RetryAfter!.Delta!.Value.TotalSeconds, 1, 300);
        Assert.Equal(429, (await client.SendAsync(Results(true, 0))).Status);
        await PostAsync(client, Messages(true, 0), "application/hl7-v2", status: HttpStatusCode.TooManyRequests);
        var acknowledged = new System.Buffers.ArrayBufferWriter<byte>();
        Assert.True(await scene.Bed.App.Services.GetRequiredService<AnswerMessages>()
            .RunAsync(scene.Stranger, Encoding.UTF8.GetBytes(Messages(true, 0)), acknowledged, IntakeBed.Ct));
        Assert.Contains("MSA|AR|G-0", Encoding.UTF8.GetString(acknowledged.WrittenSpan), StringComparison.Ordinal);
        var manager = await SignedIn.AsAsync(scene.Bed, Role.SiteManager, scene.Stranger);
        Assert.Equal(HttpStatusCode.TooManyRequests, (await UploadAsync(manager, GuessedCards.Tests(true, 1))).StatusCode);
        Assert.Equal(400, await scene.Bed.CountAsync("held_rows"));

        // Nobody else is slowed down.
        using var hill = await scene.Bed.FhirClientAsync(scene.Bed.Hill);
        await PostAsync(hill, GuessedCards.Tests(false, 1), "text/csv");
        // And a coordinator reads of it.
        var coordinator = await SignedIn.AsAsync(scene.Bed, Role.Coordinator, null);
        Assert.Contains("400", await coordinator.GetStringAsync("/claims", IntakeBed.Ct), StringComparison.Ordinal);
    }

    private static async System.Threading.Tasks.Task<string> PostAsync(
        HttpClient client, string format, string query, bool exist, int from)
    {
        var (bytes, type, _) = await SentFiles.OfAsync(format, GuessedCards.Tests(exist, AtOnce, from));
        using var content = new ByteArrayContent(bytes) { Headers = { ContentType = new(type) } };
        using var answer = await client.PostAsync("/api/v1/submissions" + query, content, IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        return await answer.Content.ReadAsStringAsync(IntakeBed.Ct);
    }

    private static async System.Threading.Tasks.Task<string> PostAsync(
        HttpClient client, string body, string type, string query = "", HttpStatusCode status = HttpStatusCode.OK)
    {
        using var content = new StringContent(body, Encoding.UTF8, type);
        using var answer = await client.PostAsync("/api/v1/submissions" + query, content, IntakeBed.Ct);
        Assert.Equal(status, answer.StatusCode);
        return await answer.Content.ReadAsStringAsync(IntakeBed.Ct);
    }

    private static async System.Threading.Tasks.Task<HttpStatusCode> StatusAsync(HttpClient client, string body)
    {
        using var content = new StringContent(body, Encoding.UTF8, "text/csv");
        using var answer = await client.PostAsync("/api/v1/submissions", content, IntakeBed.Ct);
        return answer.StatusCode;
    }

    private static async System.Threading.Tasks.Task<HttpResponseMessage> UploadAsync(HttpClient client, string csv)
    {
        using var form = new MultipartFormDataContent
        {
            { new ByteArrayContent(Encoding.UTF8.GetBytes(csv)), "Upload.File", "today.csv" },
            { new StringContent(await SignedIn.TokenAsync(client, "/submissions/new")), "__RequestVerificationToken" },
        };
        return await client.PostAsync("/submissions/new", form, IntakeBed.Ct);
    }

    private static Bundle Results(bool exist, int from) => FhirBed.Bundle(Bundle.BundleType.Batch, Enumerable.Range(from, AtOnce)
        .Select(i =>
    {
        var result = FhirBed.Result("x", at: "2026-11-03T08:00:00Z");
        result.Subject = new() { Identifier = new("urn:x-registry:card-id", GuessedCards.Card(exist, i)) };
        return ((string?)null, (Resource)result);
    }));

    private static string Messages(bool exist, int from) =>
        string.Concat(Enumerable.Range(from, AtOnce).Select(i => GuessedCards.Message(exist, i)));

    private static async System.Threading.Tasks.Task<string> SaidAsync(HttpClient client, HttpResponseMessage answer) =>
        answer.StatusCode == HttpStatusCode.Redirect
            ? await WaitingRowsForms.SaidAsync(client, answer) : await answer.Content.ReadAsStringAsync(IntakeBed.Ct);

    /// <summary>Without what a page holds for this one answer only, and the way on to the site's next row, which was sent before.</summary>
    private static string Page(string html) => Regex.Replace(
        GuessedCards.Plain(html), "[0-9]+(\">Next row like this)|(name=\"Seen\" value=\")[0-9]+", "$2#number$1");

    /// <summary>The answer to a guess; the same file once more waits no second time.</summary>
    private static void AssertWaits(string said) => Assert.True(
        said.Contains("no_such_infant", StringComparison.Ordinal) || said.Contains("still_waiting", StringComparison.Ordinal), said);
}
