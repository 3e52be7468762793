using System.Net;
using System.Text.RegularExpressions;
using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.HeldRows.Bulk;
using Registry.Records;
using Registry.Tests.Intake;
using static Registry.Tests.Intake.HeldRows.WaitingRowsForms;

namespace Registry.Tests.Claims;

/// <summary>Every guess waits as a held row of the one who guesses, whose pages and decisions must say nothing either: each row looked at
/// and acted on, alone and in bulk, beside as many of cards that nobody has.</summary>
public sealed class GuessesInHeldRowsTests(TestDatabase database)
{
    private const int AtOnce = 4, OfASite = 500;

    /// <summary>A stranger's held rows: of cards that somebody has, and of cards that nobody has.</summary>
    private sealed record Scene(HttpClient Manager, SubmissionId Hits, SubmissionId Misses)
    {
        public string Page(bool hit, int row) => $"/submissions/{(hit ? Hits : Misses)}/rows/{row}";
    }

    private static async Task<Scene> WaitingAsync(IntakeBed bed, SiteId site, Func<bool, string> rows)
    {
        var (hits, misses) = (await bed.SendAsync(rows(true), site), await bed.SendAsync(rows(false), site));
        return new(await SignedIn.AsAsync(bed, Role.SiteManager, site), hits, misses);
    }

    /// <summary>Each row is looked at, and decided about in one of the ways, with the infant whose card it is. The guesses come from
    /// several sites: a page also looks for the site's next row.</summary>
    [Fact]
    public async Task The_page_of_every_held_row_and_every_decision_about_it_say_the_same()
    {
        await using var cards = await GuessedCards.StartAsync(database);
        var infants = await cards.Bed.ListAsync("select id from infants");
        await Parallel.ForAsync(0, GuessedCards.Infants / OfASite, new ParallelOptions { MaxDegreeOfParallelism = AtOnce }, async (n, ct) =>
        {
            var site = await cards.Bed.AddSiteAsync($"stranger-{n}", SiteKind.AudiologyClinic);
            var scene = await WaitingAsync(cards.Bed, site, exist => GuessedCards.Tests(exist, OfASite, n * OfASite));
            var token = await SignedIn.TokenAsync(scene.Manager, "/submissions/new");
            for (var row = 1; row <= OfASite; row++)
            {
                var (hit, miss) = (await scene.Manager.GetStringAsync(scene.Page(true, row), ct),
                    await scene.Manager.GetStringAsync(scene.Page(false, row), ct));
                Assert.Equal(Plain(miss), Plain(hit));
                var guess = (n * OfASite) + row - 1;
                Assert.Equal(await ActAsync(scene, token, false, row, guess), await ActAsync(scene, token, true, row, guess));
            }
        });
        await cards.NothingGotInAsync();
        await cards.TellAsync("page of a held row", GuessedCards.Infants);
        await cards.TellAsync("decision about a held row (again, other card, find, this infant, both, new)", GuessedCards.Infants);

        async Task<string> ActAsync(Scene scene, string token, bool hit, int row, int guess)
        {
            var (handler, name, value) = (row % 6) switch
            {
                0 => ("Retry", "Seen", "0"),
                1 => ("Correct", "Values[card_id]", GuessedCards.Card(hit, guess + 5_000)),
                2 => ("Find", "Identifier", GuessedCards.Card(hit, guess)),
                3 => ("Match", "infant", hit ? infants[guess] : Guid.CreateVersion7().ToString()),
                4 => ("Both", "infant", hit ? infants[guess] : Guid.CreateVersion7().ToString()),
                _ => ("New", "known", "true"),
            };
            using var form = new FormUrlEncodedContent([new(name, value), new("__RequestVerificationToken", token)]);
            using var answer = await scene.Manager.PostAsync($"{scene.Page(hit, row)}?handler={handler}", form, IntakeBed.Ct);
            if (handler is "Retry" or "Correct") return Plain(await SaidAsync(scene.Manager, answer));
            Assert.True(IsDenied(answer), $"{handler} {answer.StatusCode}");
            return Plain($"{answer.StatusCode} {answer.Headers.Location?.OriginalString}");
        }
    }

    /// <summary>A birth of the harbour waits, and so do results: what waits there is no more the stranger's to know than what is
    /// recorded.</summary>
    [Fact]
    public async Task What_waits_at_another_site_under_the_same_card_is_not_told()
    {
        const string births = "kind,record_number,card_id,birth_date,sex,plurality,mother_given_name,mother_family_name,ear,outcome,method,"
            + "performed_at\n";
        await using var cards = await GuessedCards.StartAsync(database);
        var scene = await WaitingAsync(cards.Bed, cards.Stranger, exist => births + Lines(exist ? "BS-7" : "BS-8"));
        // The same cards: births that cannot say which twin they are, and results of nobody.
        var theirs = await cards.Bed.SendAsync(births + Lines("BS-7"));
        for (var row = 1; row <= 200; row++)
        {
            var (hit, miss) = (await scene.Manager.GetStringAsync(scene.Page(true, row), IntakeBed.Ct),
                await scene.Manager.GetStringAsync(scene.Page(false, row), IntakeBed.Ct));
            Assert.Equal(OfCards(miss), OfCards(hit));
        }

        // The site itself is told of its own, the office of both.
        var own = await SignedIn.AsAsync(cards.Bed, Role.SiteManager, cards.Bed.Harbour);
        Assert.Equal(1, Told(await own.GetStringAsync($"/submissions/{theirs}/rows/2", IntakeBed.Ct)));
        var coordinator = await SignedIn.AsAsync(cards.Bed, Role.Coordinator, null);
        Assert.Equal(2, Told(await coordinator.GetStringAsync(scene.Page(true, 2), IntakeBed.Ct)));
        GuessedCards.Told("what waits at another site under the same card", 200, 0);

        static string Lines(string cards) => string.Concat(Enumerable.Range(0, 100).Select(i => FormattableString.Invariant(
            $"""
            birth,,{cards}{i:00000},2026-11-04,female,2,Bea{i},Quist{i},,,,
            screening,,{cards}{i:00000},,,,,,right,pass,aabr,2026-11-05T08:00

            """)));

        static string OfCards(string page) => Regex.Replace(Plain(page), "BS-[78][0-9]{5}", "#card");

        static int Told(string page) => Regex.Count(page, "It may wait for a birth that waits itself");
    }

    [Theory]
    [InlineData(RowChangeKind.AskedAgain)]
    [InlineData(RowChangeKind.Corrected)]
    public async Task Rows_decided_in_bulk_say_the_same(RowChangeKind kind)
    {
        var guesses = GuessedCards.Infants;
        await using var cards = await GuessedCards.StartAsync(database);
        var rows = guesses / AtOnce;
        await Parallel.ForAsync(0, AtOnce, async (n, _) =>
        {
            var site = await cards.Bed.AddSiteAsync($"stranger-{n}", SiteKind.AudiologyClinic);
            var scene = await WaitingAsync(cards.Bed, site, exist => GuessedCards.Tests(exist, rows, n * rows));
            var (hit, miss) = (await DecideAsync(cards.Bed, scene, true, kind), await DecideAsync(cards.Bed, scene, false, kind));
            Assert.Equal(miss.Count, hit.Count);
            foreach (var (one, other) in hit.Zip(miss)) Assert.Equal(Plain(other), Plain(one));
        });
        await cards.NothingGotInAsync();
        await cards.TellAsync($"bulk decision about held rows ({kind})", guesses);
    }

    /// <returns>What every page says on the way.</returns>
    private static async Task<List<string>> DecideAsync(IntakeBed bed, Scene scene, bool hit, RowChangeKind kind)
    {
        var (manager, id, said) = (scene.Manager, hit ? scene.Hits : scene.Misses, new List<string>());
        var chosen = await PostAsync(manager, $"/submissions/held?submission={id}&handler=Choose", null, "/submissions/new",
            ("all", "true"));
        var bulk = chosen.Headers.Location!.OriginalString;
        said.Add(await manager.GetStringAsync(bulk, IntakeBed.Ct));
        var form = new List<(string, string)>();
        if (kind == RowChangeKind.Corrected)
        {
            form.AddRange([("Correction.Field", "card_id"), ("Correction.Of", "card_id"), ("Correction.Rows", BulkCorrection.Any),
                ("Correction.To", GuessedCards.Card(hit, 9_999))]);
            var tried = await PageAsync(await PostAsync(manager, bulk, "Try", "/submissions/new", [.. form]));
            form.Add(("Correction.Tried", HiddenOf(tried, "Correction.Tried")));
            said.Add(tried);
        }

        Assert.Equal(HttpStatusCode.Redirect, (await PostAsync(
            manager, bulk, kind == RowChangeKind.Corrected ? "Correct" : "Retry", "/submissions/new", [.. form])).StatusCode);
        await bed.App.Services.GetRequiredService<DecideInBulk>().RunAsync(Guid.Parse(bulk.Split('/')[^1]), IntakeBed.Ct);
        said.Add(await manager.GetStringAsync(bulk, IntakeBed.Ct));
        said.Add(await manager.GetStringAsync($"{bulk}?handler=Status", IntakeBed.Ct));
        foreach (var denied in new[] { "Match", "New" })
        {
            Assert.True(IsDenied(await PostAsync(manager, bulk, denied, "/submissions/new", ("infant", Guid.NewGuid().ToString()),
                ("Identifier", GuessedCards.Card(hit, 1)))));
        }

        said.Add(await manager.GetStringAsync($"/submissions/held?submission={id}", IntakeBed.Ct));
        return said;
    }

    /// <summary>Without what a page holds for this one answer only, the way on to the site's next row, which was sent before, and the
    /// position of a list's next page, which holds an id.</summary>
    private static string Plain(string html) => Regex.Replace(
        GuessedCards.Plain(html), "(after=)[A-Za-z0-9%_=-]+"
            + "|[0-9]+(?=\">Next (waiting )?row( like this)?)|(name=\"(Seen|Correction.Tried)\" value=\")[0-9a-f]+", "$1$4#");
}
