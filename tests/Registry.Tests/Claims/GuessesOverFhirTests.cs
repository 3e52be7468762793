using System.Globalization;
using System.Net;
using System.Text;
using Hl7.Fhir.Model;
using Registry.Tests.Fhir;
using Registry.Tests.Intake;
using Task = System.Threading.Tasks.Task;

namespace Registry.Tests.Claims;

/// <summary>FHIR's own ways of asking: a create on a condition and the location it answers with, a subject by the registry's id, a read, a
/// search, an operation.</summary>
public sealed class GuessesOverFhirTests(TestDatabase database)
{
    private const int AtOnce = 500;
    private const string Cards = "urn:x-registry:card-id";
    private static readonly ParallelOptions Readers = new() { MaxDegreeOfParallelism = 4 };

    /// <summary>The condition is asked of cards the stranger may not know of, so it finds nobody: every birth becomes an infant of its own,
    /// whose location leads to what was sent and to nothing else.</summary>
    [Fact]
    public async Task A_condition_on_a_card_finds_nobody_and_the_location_leads_to_ones_own()
    {
        await using var scene = await GuessedCards.StartAsync(database);
        using var client = await scene.ClientAsync();
        for (var from = 0; from < GuessedCards.Infants; from += AtOnce)
        {
            var (hits, misses) = (await CreateAsync(client, true, from), await CreateAsync(client, false, from));
            await Parallel.ForAsync(0, AtOnce, Readers, async (i, ct) =>
            {
                Assert.StartsWith("201 ", hits[i].Said, StringComparison.Ordinal);
                Assert.Equal(misses[i].Said, hits[i].Said);
                Assert.Equal(await TextAsync(client, misses[i].Everything, ct), await TextAsync(client, hits[i].Everything, ct));
            });
        }

        // None of the locations is an infant of the harbour: those stand as they were.
        Assert.Equal(GuessedCards.Infants,
            await scene.Bed.CountAsync($"births where site_id = '{scene.Bed.Harbour}' and superseded_at is null"));
        Assert.Equal(0, await scene.Bed.CountAsync($"births s join births h using (infant_id) where s.site_id = '{scene.Stranger}' "
            + $"and h.site_id = '{scene.Bed.Harbour}'"));
        Assert.Equal(GuessedCards.Infants, await scene.Bed.CountAsync("infant_status where next_step = 'rescreen'"));
        GuessedCards.Told("FHIR If-None-Exist on a card, Location read with $everything", GuessedCards.Infants, 0);
    }

    private static async Task<List<(string Said, string Everything)>> CreateAsync(HttpClient client, bool exists, int from)
    {
        var bundle = FhirBed.Bundle(Bundle.BundleType.Batch, Enumerable.Range(from, AtOnce)
            .Select(i => ((string?)null, (Resource)FhirBed.Patient(Number(i, exists), "2026-11-20", GuessedCards.Card(exists, i)))));
        foreach (var (i, entry) in bundle.Entry.Index())
            entry.Request!.IfNoneExist = $"identifier={Cards}|{GuessedCards.Card(exists, from + i)}";
        using var content = new StringContent(FhirBed.Json(bundle), Encoding.UTF8, "application/fhir+json");
        using var answer = await client.PostAsync("/fhir", content, IntakeBed.Ct);
        var said = (Bundle)await FhirBed.ReadAsync(answer);
        return [.. said.Entry.Select(e => (
            GuessedCards.Plain($"{e.Response!.Status} {e.Response.Location} {string.Join(';', FhirBed.Issues(e.Response.Outcome))}"),
            $"/fhir/{e.Response.Location}/$everything"))];
    }

    private static string Number(int i, bool exists) => (exists ? "N" : "M") + i.ToString("00000", CultureInfo.InvariantCulture);

    /// <summary>What a read answers, without what tells one infant from another.</summary>
    private static async Task<string> TextAsync(HttpClient client, string path, CancellationToken ct)
    {
        using var answer = await client.GetAsync(path, ct);
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        return System.Text.RegularExpressions.Regex.Replace(
            GuessedCards.Plain(await answer.Content.ReadAsStringAsync(ct)), "[NM][0-9]{5}", "#number");
    }

    /// <summary>Somebody got hold of the registry's ids: of infants, births, tests.</summary>
    [Fact]
    public async Task A_read_a_search_or_an_operation_of_anothers_infant_is_answered_like_one_of_nobody()
    {
        await using var scene = await GuessedCards.StartAsync(database);
        using var client = await scene.ClientAsync();
        var infants = await scene.Bed.ListAsync("select id from infants order by id");
        var births = await scene.Bed.ListAsync("select id from births order by id");
        var tests = await scene.Bed.ListAsync("select id from screenings order by id");
        (Func<int, string> Hit, Func<string> Miss, string Path)[] ways =
        [
            (i => infants[i], Nobody, "Patient/{0}"),
            (i => infants[i], Nobody, "Patient/{0}/$everything"),
            (i => infants[i], Nobody, "Patient/{0}/_history/1"),
            (i => infants[i], Nobody, "Observation?subject=Patient/{0}&_include=Observation:subject"),
            (i => births[i], Nobody, "RelatedPerson/{0}"),
            (i => births[i], Nobody, "Encounter/{0}"),
            (i => tests[i], Nobody, "Observation/{0}"),
            (i => GuessedCards.Card(true, i), () => GuessedCards.Card(false, 0), $"Patient?identifier={Cards}|{{0}}"),
            (i => GuessedCards.Card(true, i), () => GuessedCards.Card(false, 0),
                $"Patient?identifier={Cards}|{{0}}&_include=Patient:general-practitioner&_revinclude=Observation:subject"),
            (i => GuessedCards.Card(true, i), () => GuessedCards.Card(false, 0), $"Patient/$match?identifier={Cards}|{{0}}"),
        ];
        await Parallel.ForAsync(0, GuessedCards.Infants, Readers, async (i, ct) =>
        {
            var (hit, miss, path) = ways[i % ways.Length];
            Assert.Equal(await AskAsync(path, miss(), i, ct), await AskAsync(path, hit(i), i, ct));
        });
        Assert.Equal(0, await scene.Bed.CountAsync("access_records where kind = 'read' and infant_id is not null"));
        await scene.NothingGotInAsync();
        await scene.TellAsync("FHIR read, $everything, search, _include by id or card", GuessedCards.Infants);

        static string Nobody() => Guid.CreateVersion7().ToString();

        // Now as it is, now on the condition that it changed or did not: a condition is no way to learn that something is there.
        async Task<(HttpStatusCode, string)> AskAsync(string path, string id, int i, CancellationToken ct)
        {
            using var request = new HttpRequestMessage(HttpMethod.Get, "/fhir/" + string.Format(null, path, id));
            if (i / ways.Length % 3 == 1) request.Headers.Add("If-None-Match", "W/\"1\"");
            if (i / ways.Length % 3 == 2) request.Headers.Add("If-Modified-Since", "Sat, 29 Oct 2050 19:43:31 GMT");
            using var answer = await client.SendAsync(request, ct);
            Assert.Contains(answer.StatusCode, new[] { HttpStatusCode.NotFound, HttpStatusCode.MethodNotAllowed });
            Assert.Null(answer.Headers.ETag);
            return (answer.StatusCode, GuessedCards.Plain(await answer.Content.ReadAsStringAsync(ct)));
        }
    }

    /// <summary>A result whose subject is an infant of another site, by the registry's id or a search by card.</summary>
    [Theory]
    [InlineData(Bundle.BundleType.Batch)]
    [InlineData(Bundle.BundleType.Transaction)]
    public async Task A_subject_by_anothers_id_or_card_is_answered_like_one_of_nobody(Bundle.BundleType type)
    {
        await using var scene = await GuessedCards.StartAsync(database);
        using var client = await scene.ClientAsync();
        var infants = await scene.Bed.ListAsync("select id from infants order by id");
        for (var from = 0; from < GuessedCards.Infants; from += AtOnce)
        {
            var hit = await SendAsync(i =>
                i % 2 == 0 ? $"Patient/{infants[i]}" : $"Patient?identifier={Cards}|{GuessedCards.Card(true, i)}");
            var miss = await SendAsync(i =>
                i % 2 == 0 ? $"Patient/{Guid.CreateVersion7()}" : $"Patient?identifier={Cards}|{GuessedCards.Card(false, i)}");
            Assert.DoesNotContain("\"201\"", hit, StringComparison.Ordinal);
            Assert.Equal(miss, hit);

            async Task<string> SendAsync(Func<int, string> subject)
            {
                var (status, body) = await client.SendAsync(FhirBed.Bundle(type, Enumerable.Range(from, AtOnce)
                    .Select(i => ((string?)null, (Resource)FhirBed.Result(subject(i), at: "2026-11-21T08:00:00Z")))));
                return GuessedCards.Plain($"{status} {FhirBed.Json(body)}");
            }
        }

        await scene.NothingGotInAsync();
        await scene.TellAsync($"FHIR subject by id or card in a {type.ToString().ToLowerInvariant()}", GuessedCards.Infants);
    }
}
