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
    private const int People = 4;

    private sealed record Scene(GuessedCards Cards, HttpClient Manager, SubmissionId Hits, SubmissionId Misses) : IAsyncDisposable
    {
        public string Page(bool hit, int row) => $"/submissions/{(hit ? Hits : Misses)}/rows/{row}";
        public ValueTask DisposeAsync() => Cards.DisposeAsync();
    }

    /// <param name="database">The server.</param>
    /// <param name="rows">The file of guesses, for cards that somebody has or that nobody has.</param>
    private static async Task<Scene> WaitingAsync(TestDatabase database, Func<bool, string> rows)
    {
        var cards = await GuessedCards.StartAsync(database);
        var hits = await cards.Bed.SendAsync(rows(true), cards.Stranger);
        var misses = await cards.Bed.SendAsync(rows(false), cards.Stranger);
        return new(cards, await SignedIn.AsAsync(cards.Bed, Role.SiteManager, cards.Stranger), hits, misses);
    }

    [Fact]
    public async Task The_page_of_every_held_row_and_every_decision_about_it_say_the_same()
    {
        await using var scene = await WaitingAsync(database, exist => GuessedCards.Tests(exist, GuessedCards.Infants));
        var infants = await scene.Cards.Bed.ListAsync("select id from infants");
        await Task.WhenAll(Enumerable.Range(0, People).Select(async person =>
        {
            var manager = await SignedIn.AsAsync(scene.Cards.Bed, Role.SiteManager, scene.Cards.Stranger);
            var token = await SignedIn.TokenAsync(manager, "/submissions/new");
            for (var i = person; i < GuessedCards.Infants; i += People)
            {
                var (hit, miss) = (await manager.GetStringAsync(scene.Page(true, i + 1), IntakeBed.Ct),
                    await manager.GetStringAsync(scene.Page(false, i + 1), IntakeBed.Ct));
                Assert.Equal(Plain(miss), Plain(hit));
                Assert.Equal(await ActAsync(manager, token, false, i), await ActAsync(manager, token, true, i));
            }
        }));
        await scene.Cards.NothingGotInAsync();
        await scene.Cards.TellAsync("page of a held row", GuessedCards.Infants);
        await scene.Cards.TellAsync("decision on the page of a held row (again, other card, find, this infant, both, new)",
            GuessedCards.Infants);

        // Each row in one of the ways, with the infant whose card it is.
        async Task<string> ActAsync(HttpClient manager, string token, bool hit, int i)
        {
            var (handler, name, value) = (i / People % 6) switch
            {
                0 => ("Retry", "Seen", "0"),
                1 => ("Correct", "Values[card_id]", GuessedCards.Card(hit, i + 5_000)),
                2 => ("Find", "Identifier", GuessedCards.Card(hit, i)),
                3 => ("Match", "infant", hit ? infants[i] : Guid.CreateVersion7().ToString()),
                4 => ("Both", "infant", hit ? infants[i] : Guid.CreateVersion7().ToString()),
                _ => ("New", "known", "true"),
            };
            using var form = new FormUrlEncodedContent([new(name, value), new("__RequestVerificationToken", token)]);
            using var answer = await manager.PostAsync($"{scene.Page(hit, i + 1)}?handler={handler}", form, IntakeBed.Ct);
            if (handler is "Retry" or "Correct") return Plain(await SaidAsync(manager, answer));
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
        await using var scene = await WaitingAsync(database, exist => births + Lines(exist ? "BS-7" : "BS-8"));
        // The same cards: births that cannot say which twin they are, and results of nobody.
        var theirs = await scene.Cards.Bed.SendAsync(births + Lines("BS-7"));
        for (var row = 1; row <= 200; row++)
        {
            var (hit, miss) = (await scene.Manager.GetStringAsync(scene.Page(true, row), IntakeBed.Ct),
                await scene.Manager.GetStringAsync(scene.Page(false, row), IntakeBed.Ct));
            Assert.Equal(OfCards(miss), OfCards(hit));
        }

        // The site itself is told of its own, the office of both.
        var own = await SignedIn.AsAsync(scene.Cards.Bed, Role.SiteManager, scene.Cards.Bed.Harbour);
        Assert.Equal(1, Told(await own.GetStringAsync($"/submissions/{theirs}/rows/2", IntakeBed.Ct)));
        var coordinator = await SignedIn.AsAsync(scene.Cards.Bed, Role.Coordinator, null);
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
    [InlineData(RowChangeKind.AskedAgain, 10_000)]
    [InlineData(RowChangeKind.Corrected, 1_000)]
    public async Task Rows_decided_in_bulk_say_the_same(RowChangeKind kind, int rows)
    {
        await using var scene = await WaitingAsync(database, exist => GuessedCards.Tests(exist, rows));
        var said = new List<string>();
        foreach (var hit in new[] { true, false })
        {
            var id = hit ? scene.Hits : scene.Misses;
            var chosen = await PostAsync(scene.Manager, $"/submissions/held?submission={id}&handler=Choose", null, "/submissions/new",
                ("all", "true"));
            var bulk = chosen.Headers.Location!.OriginalString;
            said.Add(await scene.Manager.GetStringAsync(bulk, IntakeBed.Ct));
            var form = new List<(string, string)>();
            if (kind == RowChangeKind.Corrected)
            {
                form.AddRange([("Correction.Field", "card_id"), ("Correction.Of", "card_id"), ("Correction.Rows", BulkCorrection.Any),
                    ("Correction.To", GuessedCards.Card(hit, 9_999))]);
                var tried = await PageAsync(await PostAsync(scene.Manager, bulk, "Try", "/submissions/new", [.. form]));
                form.Add(("Correction.Tried", HiddenOf(tried, "Correction.Tried")));
                said.Add(tried);
            }

            Assert.Equal(HttpStatusCode.Redirect, (await PostAsync(
                scene.Manager, bulk, kind == RowChangeKind.Corrected ? "Correct" : "Retry", "/submissions/new", [.. form])).StatusCode);
            await scene.Cards.Bed.App.Services.GetRequiredService<DecideInBulk>()
                .RunAsync(Guid.Parse(bulk.Split('/')[^1]), IntakeBed.Ct);
            said.Add(await scene.Manager.GetStringAsync(bulk, IntakeBed.Ct));
            said.Add(await scene.Manager.GetStringAsync($"{bulk}?handler=Status", IntakeBed.Ct));
            foreach (var denied in new[] { "Match", "New" })
            {
                Assert.True(IsDenied(await PostAsync(scene.Manager, bulk, denied, "/submissions/new", ("infant", Guid.NewGuid().ToString()),
                    ("Identifier", GuessedCards.Card(hit, 1)))));
            }

            said.Add(await scene.Manager.GetStringAsync($"/submissions/held?submission={id}", IntakeBed.Ct));
        }

        foreach (var (hit, miss) in said.Take(said.Count / 2).Zip(said.Skip(said.Count / 2))) Assert.Equal(Plain(miss), Plain(hit));
        await scene.Cards.NothingGotInAsync();
        await scene.Cards.TellAsync($"bulk decision of held rows ({kind})", rows);
    }

    /// <summary>Without what a page holds for this one answer only, the way on to the site's next row, which was sent before, and the
    /// position of a list's next page, which holds an id.</summary>
    private static string Plain(string html) => Regex.Replace(
        GuessedCards.Plain(html), "(name=\"__RequestVerificationToken\" type=\"hidden\" value=\")[^\"]+|(after=)[A-Za-z0-9%_=-]+"
            + "|[0-9]+(?=\">Next (waiting )?row( like this)?)|(name=\"(Seen|Correction.Tried)\" value=\")[0-9a-f]+", "$1$2$5#");
}
