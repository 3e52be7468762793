using System.Diagnostics;
using System.Net;
using System.Text.RegularExpressions;
using Registry.Infants.Find;
using Registry.Records;
using Registry.Rules.Linkage;
using Registry.Tests.Access;
using Registry.Tests.Intake;

namespace Registry.Tests.Infants;

/// <summary>Finding an infant by what somebody knows of it: over HTTP, as a person with a mother on the line meets it, and as an
/// attacker.</summary>
public sealed partial class FindTests(TestDatabase database)
{
    private const string Header = "kind,record_number,card_id,birth_date,sex,infant_given_name,infant_family_name,mother_given_name,"
        + "mother_family_name,mother_birth_date,contact_phone\n";

    private const string Rows = Header +
        """
        birth,H-1,CARD-77,2026-09-01,female,Ilse,Marlow,Ada,Marlow,1995-02-03,(555) 010-0123
        birth,H-2,,2026-09-02,male,José,Núñez,María Elena,Núñez-O'Hara,1990-01-02,
        birth,H-3,,2026-01-09,male,,Katherine,Joan,Kovalenko,1991-05-05,
        birth,H-4,,2026-09-03,female,Nora,Marlowe,Ida,Berg,1992-02-02,

        """;

    /// <summary>What is typed, and the record numbers that are shown, in that order.</summary>
    private static readonly (string Typed, string Numbers)[] Cases =
    [
        ("Marlow", "H-1 H-4"), // to the letter first, then what is like it
        ("Ada Marlow", "H-1 H-4"), // Ida Berg's child is Marlowe: one slip in each
        ("marlow ada", "H-1 H-4"), // in any order
        ("Ilse", "H-1"), // the child's name
        ("Malrow", "H-1"), // letters in the wrong order
        ("Marlw Ilse", "H-1"), // one missing
        ("nunez", "H-2"), // without accents
        ("OHARA Maria", "H-2"),
        ("Kovalenco", "H-3"), // another letter
        ("Cathryn", "H-3"), // by the ear
        ("Koval", "H-3"), // the beginning
        ("2026-09-01", "H-1 H-3"), // and with day and month swapped
        ("09/01/2026", "H-1 H-3"),
        ("1 September 2026", "H-1"),
        ("Ada 2026-01-09", "H-1"), // swapped, and the name decides
        ("555 010 0123", "H-1"), // however it is grouped
        ("+1 (555) 010-0123", "H-1"),
        ("h-2", "H-2"),
        ("card-77", "H-1"),
        ("Ada Marlow 2026-09-02", "H-1 H-4"), // all but the date
        ("Zwick", ""),
        ("%", ""),
        ("M%", ""),
        ("_arlow", "H-1"), // punctuation, and a slip
        ("' or '1'='1", ""),
        ("'; drop table births; --", ""),
    ];

    [Fact]
    public async Task An_infant_is_found_by_what_is_known_of_it()
    {
        await using var bed = await FilledAsync(database);
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var found = new List<(string, string)>();
        foreach (var (typed, _) in Cases) found.Add((typed, string.Join(' ', Numbers(await FindAsync(client, typed)))));
        Assert.Equal(Cases, found);
    }

    [Fact]
    public async Task What_matched_is_marked_and_what_was_tried_is_said()
    {
        await using var bed = await FilledAsync(database);
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = await FindAsync(client, "Malrow 2026-09-01 card-77");
        Assert.Contains("<mark>Marlow</mark>", page, StringComparison.Ordinal);
        Assert.Contains("<mark>CARD-77</mark>", page, StringComparison.Ordinal);
        Assert.Contains("<mark>the phone matches</mark>", await FindAsync(client, "5550100123"), StringComparison.Ordinal);
        var nothing = await FindAsync(client, "Zwick 1999-12-31");
        Assert.Contains("No infant was found", nothing, StringComparison.Ordinal);
        Assert.Contains("a name, or one that is spelled or sounds like it", nothing, StringComparison.Ordinal);
        Assert.Contains("a record number or a blood-spot card", nothing, StringComparison.Ordinal);
    }

    /// <summary>Its own words and nothing else of it, for a site that has nothing to do with the infant.</summary>
    [Fact]
    public async Task Another_sites_infant_is_answered_as_one_that_does_not_exist()
    {
        await using var bed = await FilledAsync(database);
        using var other = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        using var own = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var (there, nowhere) = (new List<double>(), new List<double>());
        foreach (var (real, invented) in new[]
        {
            ("Marlow", "Zwitter"), ("2026-09-01", "2026-03-05"), ("5550100123", "5550100999"), ("H-1", "H-9"), ("CARD-77", "CARD-99"),
        })
        {
            Assert.NotEmpty(Numbers(await FindAsync(own, real)));
            Assert.Equal(await AnswerAsync(other, invented),
                (await AnswerAsync(other, real)).Replace(Tried(real), Tried(invented), StringComparison.Ordinal));
            for (var i = 0; i < 3; i++)
            {
                there.Add(await TimeAsync(other, real));
                nowhere.Add(await TimeAsync(other, invented));
            }
        }

        // Medians of many questions; whoever is not seen is not read, so what differs is the machine.
        TestContext.Current.SendDiagnosticMessage($"there {Median(there):0.0} ms, nowhere {Median(nowhere):0.0} ms");
        Assert.Empty(await bed.ListAsync(
            "select 1 from access_records a join people p on p.id = a.person_id where p.role = 'site_manager' and infant_count > 0"));
    }

    [Fact]
    public async Task A_search_is_recorded_by_whom_it_showed_and_keeps_nothing_of_what_was_typed()
    {
        await using var bed = await FilledAsync(database);
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await FindAsync(client, "Ilse Marlow H-1");
        Assert.Equal(["POST /find read 1"], await bed.ListAsync(
            "select concat_ws(' ', action, kind, infant_count) from access_records where action = 'POST /find'"));
        var id = (await bed.ListAsync("select infant_id from infant_identifiers where value = 'H-1'"))[0];
        Assert.Equal([id], await bed.ListAsync("select unnest(infants) from access_records where action = 'POST /find'"));
        Assert.Contains(">Find, sent<", await client.GetStringAsync($"/infants/{id}/reads", IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Empty(await bed.ListAsync("select 1 from access_records a where a::text ~* 'ilse|marlow|h-1'"));
    }

    [Fact]
    public async Task A_search_is_sent_by_a_form_of_ours_and_by_nothing_else()
    {
        await using var bed = await FilledAsync(database);
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var bare = await client.PostAsync("/find", new FormUrlEncodedContent([new("find", "Marlow")]), IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.BadRequest, bare.StatusCode);
        Assert.Empty(Numbers(await client.GetStringAsync("/find?find=Marlow", IntakeBed.Ct)));
        using var nul = await SessionsTests.PostAsync(client, "/find", "", ("find", "a\0b"));
        Assert.Equal(HttpStatusCode.BadRequest, nul.StatusCode);
        foreach (var longText in new[] { new string('a', 101), new string('9', 50_000), string.Join(' ', Enumerable.Repeat("Ada", 40)) })
            Assert.Contains("too long", await FindAsync(client, longText), StringComparison.Ordinal);
        using var auditor = await SignedIn.AsAsync(bed, Role.Auditor, null);
        Assert.Equal("/denied", (await auditor.GetAsync("/find", IntakeBed.Ct)).Headers.Location!.AbsolutePath);
    }

    [Fact]
    public async Task A_flood_of_searches_is_slowed_for_who_makes_it_alone()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Infants:SearchesPerMinute"] = "5" });
        await bed.SendAsync(Rows);
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var answers = new List<HttpStatusCode>();
        for (var i = 0; i < 8; i++)
        {
            using var answer = await SessionsTests.PostAsync(client, "/find", "", ("find", "Marlow"));
            answers.Add(answer.StatusCode);
            if (answer.StatusCode == HttpStatusCode.TooManyRequests) Assert.NotNull(answer.Headers.RetryAfter);
        }

        Assert.Contains(HttpStatusCode.TooManyRequests, answers);
        Assert.Equal(HttpStatusCode.OK, answers[0]);
        using var colleague = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.NotEmpty(Numbers(await FindAsync(colleague, "Marlow")));
    }

    /// <summary>What is found follows the birth that holds, however it changed.</summary>
    [Fact]
    public async Task Words_follow_the_birth_that_holds()
    {
        await using var bed = await FilledAsync(database);
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await bed.SendAsync(
            "kind,action,record_number,birth_date,sex,infant_given_name,mother_given_name,mother_family_name,mother_birth_date\n"
            + "birth,correct,H-1,2026-09-01,female,Ottilie,Ada,Marlow,1995-02-03\n");
        Assert.Empty(Numbers(await FindAsync(client, "Ilse")));
        Assert.Equal(["H-1"], Numbers(await FindAsync(client, "Ottilie")));
        await bed.SendAsync("kind,action,record_number,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date\n"
            + "birth,retract,H-1,2026-09-01,female,Ada,Marlow,1995-02-03\n");
        Assert.Empty(Numbers(await FindAsync(client, "Ottilie")));
        Assert.Empty(await bed.ListAsync(
            """
            select infant_id, word from infant_words
            except select b.infant_id, w from births b, unnest(array[b.mother_given_name, b.mother_family_name, b.infant_given_name,
              b.infant_family_name]) n, search_words_of(n) w where b.superseded_at is null
            """));
        Assert.Empty(await bed.ListAsync("select word from infant_words except select word from search_words"));
    }

    /// <summary>The two spellings of one rule, the program's and the database's.</summary>
    [Fact]
    public async Task Database_and_program_agree_on_the_words_of_a_name()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        foreach (var name in new[]
        {
            "Ada Marlow", "O'Brien-Núñez", "o’brien", "de la  Cruz", "Åsa Ødegård", "Łukasz Weiß", "José–María", "O´Neil St. John", "Ægir",
            "Nguyễn Thị", "Владимир", "李 小龙", "Smith/Jones (Berg)", "Anne\u00A0Marie", "\uFB01nn", "İpek", "-- '", "Œuvre_Þór",
        })
            Assert.Equal(SearchWords.Of(name).Order(StringComparer.Ordinal),
                (await bed.ListAsync("select search_words_of($1)", name)).Order(StringComparer.Ordinal));
    }

    internal static async Task<IntakeBed> FilledAsync(TestDatabase database)
    {
        var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Infants:SearchesPerMinute"] = "1000" });
        await bed.SendAsync(Rows);
        return bed;
    }

    internal static async Task<string> FindAsync(HttpClient client, string typed)
    {
        using var answer = await SessionsTests.PostAsync(client, "/find", "", ("find", typed));
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        return WebUtility.HtmlDecode(await answer.Content.ReadAsStringAsync(IntakeBed.Ct));
    }

    private static async Task<string> AnswerAsync(HttpClient client, string typed) =>
        MainPart().Match(await FindAsync(client, typed)).Value;

    private static string Tried(string typed) => FindWords.Tried(SearchTerm.Read(typed)).Single();

    private static async Task<double> TimeAsync(HttpClient client, string typed)
    {
        var token = await SignedIn.TokenAsync(client, "/find");
        using var form = new FormUrlEncodedContent([new("find", typed), new("__RequestVerificationToken", token)]);
        var clock = Stopwatch.StartNew();
        using var answer = await client.PostAsync("/find", form, IntakeBed.Ct);
        return clock.Elapsed.TotalMilliseconds;
    }

    private static double Median(List<double> times) => times.Order().ElementAt(times.Count / 2);

    private static string[] Numbers(string page) =>
        [.. Number().Matches(page).Select(m => m.Groups[1].Value)];

    [GeneratedRegex(@"record number\s*(?:<mark>)?([A-Z]-\d+)")]
    private static partial Regex Number();

    [GeneratedRegex("<main.*</main>", RegexOptions.Singleline)]
    private static partial Regex MainPart();
}
