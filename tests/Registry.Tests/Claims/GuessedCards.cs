using System.Globalization;
using System.Text;
using System.Text.RegularExpressions;
using Registry.Records;
using Registry.Tests.Fhir;
using Registry.Tests.Intake;

namespace Registry.Tests.Claims;

/// <summary>
/// Infants of one hospital, and a site that has nothing to do with them and tries card ids: those that exist, and as many of the same form
/// that nobody has. What is said of the two must be the same to the letter, once ids and times are set aside.
/// </summary>
internal sealed partial class GuessedCards : IAsyncDisposable
{
    public const int Infants = 500;
    private readonly SiteId _stranger;

    private GuessedCards(IntakeBed bed, SiteId stranger) => (Bed, _stranger) = (bed, stranger);

    public IntakeBed Bed { get; }
    public SiteId Stranger => _stranger;

    public static async Task<GuessedCards> StartAsync(TestDatabase database, int allowed = 10_000_000)
    {
        var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?>
        {
            ["Intake:UnmatchedCardsPerDay"] = allowed.ToString(CultureInfo.InvariantCulture),
            ["Intake:RequestsPerMinute"] = "1000000",
        });
        var births = new StringBuilder("kind,record_number,card_id,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date,"
            + "contact_email,email_consent,ear,outcome,method,performed_at\n");
        for (var i = 0; i < Infants; i++)
        {
            var born = new DateOnly(1990, 1, 1).AddDays(i).ToString("O", CultureInfo.InvariantCulture);
            var mother = $"Ada{i},Marlow{i},{born},m{i}@example.test";
            births.Append(CultureInfo.InvariantCulture, $"birth,H{i},{Card(true, i)},2026-11-01,female,{mother},yes,,,,\n");
            births.Append(CultureInfo.InvariantCulture, $"screening,H{i},,,,,,,,,right,refer,oae,2026-11-02T09:15\n");
            births.Append(CultureInfo.InvariantCulture, $"screening,H{i},,,,,,,,,left,refer,oae,2026-11-02T09:20\n");
        }

        await bed.SendAsync(births.ToString());
        return new(bed, await bed.AddSiteAsync("stranger", SiteKind.AudiologyClinic));
    }

    /// <summary>A card somebody has, or one of the same form that nobody has.</summary>
    public static string Card(bool exists, int i) =>
        (exists ? "BS-1" : "BS-9") + (i % Infants).ToString("00000", CultureInfo.InvariantCulture);

    /// <summary>A file of passes for guessed cards, one kind of guess after the other.</summary>
    public static string Tests(bool exist, int rows)
    {
        var text = new StringBuilder("kind,card_id,ear,outcome,method,performed_at\n");
        for (var i = 0; i < rows; i++)
        {
            var at = new DateTime(2026, 11, 3, 8, 0, 0, DateTimeKind.Utc).AddMinutes(i / Infants);
            text.Append(CultureInfo.InvariantCulture, $"screening,{Card(exist, i)},right,pass,aabr,{at:yyyy-MM-ddTHH:mm}\n");
        }

        return text.ToString();
    }

    public Task<HttpClient> ClientAsync() => Bed.FhirClientAsync(_stranger);

    /// <summary>Ids and times set aside, and the numbers that tell one card from another.</summary>
    public static string Plain(string body)
    {
        body = Ids().Replace(Hashes().Replace(body, "#hash"), "#id");
        return Numbers().Replace(Times().Replace(body, "#time"), "#card");
    }

    /// <summary>Whatever was tried: nothing of the stranger became a fact, it sees nobody, and what was due stays due.</summary>
    public async Task NothingGotInAsync()
    {
        foreach (var table in new[] { "infant_identifiers", "births", "screenings", "contacts", "transfers", "diagnoses" })
            Assert.Equal(0, await Bed.CountAsync($"{table} where site_id = '{_stranger.Value}'"));
        Assert.Equal(Infants, await Bed.CountAsync("infants"));
        Assert.Equal(Infants, await Bed.CountAsync("infant_status where next_step = 'rescreen'"));
        Assert.Equal(0, await Bed.CountAsync("held_rows where reason not in ('no_such_infant')"));
        Assert.Equal(0, await Bed.CountAsync("submission_rows r join held_rows h using (submission_id, row_number) "
            + "where r.infant_id is not null"));
    }

    public ValueTask DisposeAsync() => Bed.DisposeAsync();

    [GeneratedRegex("[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")]
    private static partial Regex Ids();

    [GeneratedRegex(@"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?(Z|\+00:00)|\b20\d{12}(\.\d+)?(\+0000)?\b"
        + @"|\d{1,2} \w{3} \d{4},? \d{2}:\d{2}")]
    private static partial Regex Times();

    /// <summary>Of the bytes sent, with their number (a workbook is packed), and the control ids of acknowledgements.</summary>
    [GeneratedRegex("\\b[0-9a-f]{64}\\b|\\b[0-9a-f]{20}\\b|\"bytes\":[0-9]+")]
    private static partial Regex Hashes();

    [GeneratedRegex(@"BS-[19]\d{5}")]
    private static partial Regex Numbers();
}
