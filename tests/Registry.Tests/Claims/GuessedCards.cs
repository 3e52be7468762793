using System.Globalization;
using System.Text;
using System.Text.RegularExpressions;
using Registry.Facts;
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
    /// <summary>And guesses: a thousand, ten thousand when <c>bench trust</c> asks for the whole attack.</summary>
    public static readonly int Infants =
        int.TryParse(Environment.GetEnvironmentVariable("REGISTRY_GUESSES"), NumberStyles.None, CultureInfo.InvariantCulture, out var n)
            ? n : 1_000;

    private readonly SiteId _stranger;

    private GuessedCards(IntakeBed bed, SiteId stranger) => (Bed, _stranger) = (bed, stranger);

    public IntakeBed Bed { get; }
    public SiteId Stranger => _stranger;

    /// <param name="database">The server.</param>
    /// <param name="allowed">Cards that may lead nowhere before their sender is slowed down.</param>
    /// <param name="settings">Settings of the program beside these.</param>
    public static async Task<GuessedCards> StartAsync(
        TestDatabase database, int allowed = 10_000_000, params (string Key, string Value)[] settings)
    {
        var all = settings.ToDictionary(s => s.Key, s => (string?)s.Value);
        all["Access:AllowHttp"] = "true";
        all["Intake:UnmatchedCardsPerDay"] = allowed.ToString(CultureInfo.InvariantCulture);
        all["Intake:RequestsPerMinute"] = "1000000";
        var bed = await IntakeBed.OnAsync(await RegistryApp.StartAsync(database, "guessed-cards", PrepareAsync, all));
        return new(bed, new(Guid.Parse((await bed.ListAsync("select id from sites where code = 'stranger'"))[0])));
    }

    /// <summary>Infants of the harbour that are due a rescreen, and the stranger. Once a run: every test gets a copy.</summary>
    private static async Task PrepareAsync(RegistryApp app)
    {
        var bed = await IntakeBed.OnAsync(app);
        var births = new StringBuilder("kind,record_number,card_id,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date,"
            + "contact_email,email_consent,ear,outcome,method,performed_at\n");
        for (var i = 0; i < Infants; i++)
        {
            var born = new DateOnly(1970, 1, 1).AddDays(i).ToString("O", CultureInfo.InvariantCulture);
            var mother = $"Ada{i},Marlow{i},{born},m{i}@example.test";
            births.Append(CultureInfo.InvariantCulture, $"birth,H{i},{Card(true, i)},2026-11-01,female,{mother},yes,,,,\n");
            births.Append(CultureInfo.InvariantCulture, $"screening,H{i},,,,,,,,,right,refer,oae,2026-11-02T09:15\n");
            births.Append(CultureInfo.InvariantCulture, $"screening,H{i},,,,,,,,,left,refer,oae,2026-11-02T09:20\n");
        }

        await bed.SendAsync(births.ToString());
        await bed.AddSiteAsync("stranger", SiteKind.AudiologyClinic);
        await app.AsOwnerAsync("analyze");
    }

    /// <summary>A card somebody has, or one of the same form that nobody has.</summary>
    public static string Card(bool exists, int i) =>
        (exists ? "BS-1" : "BS-9") + (i % Infants).ToString("00000", CultureInfo.InvariantCulture);

    /// <summary>A file of passes for guessed cards.</summary>
    public static string Tests(bool exist, int rows, int from = 0)
    {
        var text = new StringBuilder("kind,card_id,ear,outcome,method,performed_at\n");
        for (var i = from; i < from + rows; i++)
            text.Append(CultureInfo.InvariantCulture, $"screening,{Card(exist, i)},right,pass,aabr,2026-11-03T08:00\n");
        return text.ToString();
    }

    /// <summary>A message with the result of one guessed card.</summary>
    public static string Message(bool exist, int i) =>
        $"MSH|^~\\&|SCREENING|STRANGER|REGISTRY|LINDMERE|20261121100000||ORU^R01^ORU_R01|G-{i}|P|2.6\rPID|1||G{i}^^^STRANGER^MR\r"
        + "OBR|1||1|54111-0^Newborn hearing screening panel^LN|||202611211000\r"
        + $"OBX|1|ST|57723-9^Card^LN|1|{Card(exist, i)}||||||F\r"
        + "OBR|2||2|73744-5^Newborn hearing screen panel of Ear - right^LN|||202611211000\r"
        + "OBX|1|CWE|54109-4^Newborn hearing screen of Ear - right^LN|1|LA10392-1^Pass^LN||||||F|||202611211000\r"
        + "OBX|2|CWE|54106-0^Newborn hearing screen method^LN|1|LA10387-1^AABR^LN||||||F\r";

    public Task<HttpClient> ClientAsync() => Bed.FhirClientAsync(_stranger);

    /// <summary>Ids and times set aside, and the numbers that tell one card from another.</summary>
    public static string Plain(string body)
    {
        body = Ids().Replace(Hashes().Replace(SignedIn.Plain(body), "#hash"), "#id");
        return Numbers().Replace(Times().Replace(body, "#time"), "#card");
    }

    /// <summary>Whatever was tried: nothing of a stranger became a fact, it sees nobody, and what was due stays due.</summary>
    public async Task NothingGotInAsync()
    {
        foreach (var table in FactKinds.Tables.Append("infant_sites"))
            Assert.Equal(0, await Bed.CountAsync($"{table} where site_id <> '{Bed.Harbour}'"));
        Assert.Equal(Infants, await Bed.CountAsync("infants"));
        Assert.Equal(Infants, await Bed.CountAsync("infant_status where next_step = 'rescreen'"));
        Assert.Equal(0, await Bed.CountAsync("held_rows where reason not in ('no_such_infant')"));
        Assert.Equal(0, await Bed.CountAsync("submission_rows r join held_rows h using (submission_id, row_number) "
            + "where r.infant_id is not null"));
    }

    /// <summary>A line of the table of attacks: what was tried, how often, what got in.</summary>
    public async Task TellAsync(string attack, int tries)
    {
        var got = await Bed.CountAsync($"infant_sites where site_id <> '{Bed.Harbour}'");
        Told(attack, tries, got);
    }

    public static void Told(string attack, int tries, long gotIn) => TestContext.Current.TestOutputHelper?.WriteLine(
        FormattableString.Invariant($"attack: {attack}; tries: {tries}; got in: {gotIn}"));

    /// <summary>How many pairs took longer for a card that exists, of a hundred: half of them, when the clock tells nothing. The bound is
    /// wide: the machine does other things too.</summary>
    public static void TheClockTellsNothing(IReadOnlyCollection<(TimeSpan Hit, TimeSpan Miss)> pairs)
    {
        var slower = pairs.Count(p => p.Hit > p.Miss) / (double)pairs.Count;
        TestContext.Current.TestOutputHelper?.WriteLine(
            FormattableString.Invariant($"of {pairs.Count} pairs the card that exists took longer in {slower:P1}"));
        Assert.InRange(slower, .4, .6);
    }

    public ValueTask DisposeAsync() => Bed.DisposeAsync();

    [GeneratedRegex("[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")]
    private static partial Regex Ids();

    [GeneratedRegex(@"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?(Z|\+00:00)|\b20\d{12}(\.\d+)?(\+0000)?\b"
        + @"|\d{1,2} \w{3} \d{4},? \d{2}:\d{2}")]
    private static partial Regex Times();

    /// <summary>Of the bytes sent, with their number (a workbook is packed), the control ids of acknowledgements, the ids of
    /// requests.</summary>
    [GeneratedRegex("\\b00-[0-9a-f]{32}-[0-9a-f]{16}-0[01]\\b|\\b[0-9a-f]{64}\\b|\\b[0-9a-f]{20}\\b"
        + "|\"(bytes|traceId)\":(\"[^\"]+\"|[0-9]+)")]
    private static partial Regex Hashes();

    [GeneratedRegex(@"BS-[19]\d{5}")]
    private static partial Regex Numbers();
}
