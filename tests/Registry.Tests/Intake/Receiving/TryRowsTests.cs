using System.Net;
using System.Text;
using System.Text.Json.Nodes;
using Registry.Tests.Intake.Formats;
using Registry.Tests.Reporting.Measures;

namespace Registry.Tests.Intake.Receiving;

/// <summary>A dry run says what sending would do, and leaves no trace.</summary>
public sealed class TryRowsTests(TestDatabase database)
{
    /// <summary>Every outcome, a test before its birth in the file, a twin pair, a correction, and something known from before.</summary>
    private const string File =
        """
        kind,action,record_number,birth_date,sex,birth_order,plurality,mother_given_name,mother_family_name,mother_birth_date,ear,outcome,method,performed_at
        screening,,B1,,,,,,,,right,pass,oae,2026-11-04T09:15
        birth,,A1,2026-11-01,female,,1,Ada,Marlow,1995-02-03,,,,
        birth,,B1,2026-11-03,male,,1,Bea,Quist,1990-08-30,,,,
        birth,,T1,2026-11-05,male,1,2,Cleo,Ness,1991-01-01,,,,
        birth,,T2,2026-11-05,male,2,2,Cleo,Ness,1991-01-01,,,,
        birth,,C1,2026-11-31,male,,1,Dora,Ott,1992-01-01,,,,
        screening,,A9,,,,,,,,left,refer,oae,2026-11-04T09:20
        screening,correct,A1,,,,,,,,right,refer,oae,2026-11-02T09:15

        """;

    private const string Before =
        """
        kind,record_number,birth_date,sex,plurality,mother_given_name,mother_family_name,mother_birth_date,ear,outcome,method,performed_at
        birth,A1,2026-11-01,female,1,Ada,Marlow,1995-02-03,,,,
        screening,A1,,,,,,,right,pass,oae,2026-11-02T09:15

        """;

    [Fact]
    public async Task The_outcomes_are_those_of_sending_and_nothing_is_stored()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.ClientAsync(bed.Harbour);
        await bed.SendAsync(Before);
        var before = await EverythingAsync(bed);

        var (status, trial, _) = await client.SendAsync(Encoding.UTF8.GetBytes(File), "?dry_run=true");
        Assert.Equal(HttpStatusCode.OK, status);
        Assert.Equal("8 8 5 1 1 1 utf8", string.Join(
            ' ', new[] { "rows", "rowsTried", "accepted", "unchanged", "rejected", "held", "encoding" }.Select(n => trial[n]!.ToString())));
        Assert.Equal(before, await EverythingAsync(bed));

        var (_, sent, _) = await client.SendAsync(Encoding.UTF8.GetBytes(File));
        Assert.Equal(Rows(sent["rows"]!), Rows(trial["outcomes"]!));
        Assert.Equal("accepted unchanged accepted accepted accepted rejected held accepted",
            string.Join(' ', Rows(trial["outcomes"]!).Select(r => r.Split('|')[1])));
        Assert.NotEqual(before, await EverythingAsync(bed));
    }

    [Fact]
    public async Task A_file_that_cannot_be_read_and_a_key_are_told_and_leave_nothing()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.ClientAsync(bed.Harbour);
        client.DefaultRequestHeaders.Add("Idempotency-Key", "day-1");
        var (status, body, _) = await client.SendAsync("kind,record_number\nbirth\n"u8.ToArray(), "?dry_run=true");
        Assert.Equal((HttpStatusCode.BadRequest, "has 1 fields where the header has 2"), (status, body.Reason()));
        Assert.Equal(HttpStatusCode.OK, (await client.SendAsync(Encoding.UTF8.GetBytes(File), "?dry_run=true")).Status);
        Assert.Equal(HttpStatusCode.BadRequest, (await client.SendAsync(Encoding.UTF8.GetBytes(File), "?dry_run=maybe")).Status);
        Assert.Equal(0, await bed.CountAsync("submissions"));
        // The key was not used up.
        Assert.Equal(HttpStatusCode.OK, (await client.SendAsync(Encoding.UTF8.GetBytes(Before))).Status);
    }

    [Fact]
    public async Task Of_a_long_file_the_first_rows_are_tried_and_a_large_one_is_refused()
    {
        await using var bed = await IntakeBed.StartAsync(
            database, new Dictionary<string, string?> { ["Intake:DryRunRows"] = "20", ["Intake:DryRunBytes"] = "3000" });
        using var client = await bed.ClientAsync(bed.Harbour);
        string Births(int rows) => "record_number,birth_date,sex\n" + string.Concat(
            Enumerable.Range(1, rows).Select(i => $"{i},2026-11-01,female\n"));
        var (_, trial, _) = await client.SendAsync(Encoding.UTF8.GetBytes(Births(50)), "?dry_run=true&kind=birth");
        Assert.Equal("50 20 20", $"{trial["rows"]} {trial["rowsTried"]} {trial["accepted"]}");
        var (status, body, _) = await client.SendAsync(Encoding.UTF8.GetBytes(Births(500)), "?dry_run=true&kind=birth");
        Assert.Equal(HttpStatusCode.RequestEntityTooLarge, status);
        Assert.Contains("3000 bytes", body.Reason(), StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("submissions"));
    }

    [Fact]
    public async Task Of_infants_the_site_does_not_see_it_knows_nothing_and_every_trial_is_recorded()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        const string header = "kind,record_number,card_id,birth_date,sex,plurality,mother_given_name,mother_family_name,mother_birth_date,ear,outcome,method,performed_at\n";
        await bed.SendAsync(header
            + "birth,A1,C1,2026-11-01,female,1,Ada,Marlow,1995-02-03,,,,\nscreening,A1,,,,,,,,right,pass,oae,2026-11-02T09:15\n");
        using var hill = await bed.ClientAsync(bed.Hill);
        async Task<string> TryAsync(HttpClient client, string row)
        {
            var (status, trial, _) = await client.SendAsync(Encoding.UTF8.GetBytes(header + row), "?dry_run=true");
            Assert.True(status == HttpStatusCode.OK, trial.ToString());
            return $"{trial["outcomes"]![0]!["outcome"]} {trial["outcomes"]![0]!["heldReason"]}{trial["outcomes"]![0]!["problems"]!.AsArray().FirstOrDefault()?["reason"]}".Trim();
        }

        // A known infant, one that differs in part, and one nobody knows are answered alike; so are its tests.
        (string Known, string Unknown)[] pairs =
        [
            ("birth,,C1,2026-11-01,female,1,Ada,Marlow,1995-02-03,,,,\n", "birth,,C2,2026-11-01,female,1,Eva,Other,1995-02-04,,,,\n"),
            ("birth,,C1,2026-11-01,male,1,Ada,Marlow,1995-02-03,,,,\n", "birth,,C2,2026-11-01,male,1,Eva,Other,1995-02-04,,,,\n"),
            ("birth,,,2026-11-01,female,1,Ida,Marlow,1995-02-03,,,,\n", "birth,,,2026-11-01,female,1,Ida,Other,1995-02-04,,,,\n"),
            ("screening,,C1,,,,,,,right,pass,oae,2026-11-02T09:15\n", "screening,,C2,,,,,,,right,pass,oae,2026-11-02T09:15\n"),
            ("screening,,C1,,,,,,,left,pass,oae,2026-10-30T09:15\n", "screening,,C2,,,,,,,left,pass,oae,2026-10-30T09:15\n"),
        ];
        foreach (var (known, unknown) in pairs) Assert.Equal(await TryAsync(hill, unknown), await TryAsync(hill, known));
        Assert.Equal("held no_such_infant", await TryAsync(hill, pairs[3].Known));
        // The site of birth is told how it is.
        using var harbour = await bed.ClientAsync(bed.Harbour);
        Assert.Equal("unchanged", await TryAsync(harbour, pairs[0].Known));
        Assert.Equal("held identifier_contradicted", await TryAsync(harbour, pairs[1].Known));
        // And so is the other one, once it holds something of the infant.
        await bed.SendAsync(header + "screening,,C1,2026-11-01,,,,Marlow,,left,pass,oae,2026-11-03T09:15\n", bed.Hill);
        Assert.Equal("unchanged", await TryAsync(hill, "screening,,C1,,,,,,,left,pass,oae,2026-11-03T09:15\n"));
        Assert.Equal(["POST /api/v1/submissions/ 1"],
            (await bed.ListAsync("select concat_ws(' ', action, infant_count) from access_records where kind = 'read' and infant_id is null")).Distinct());
        Assert.Equal(14, await bed.CountAsync("access_records where kind = 'read' and site_key_id is not null"));
        Assert.Equal(HttpStatusCode.BadRequest, (await hill.SendAsync("nonsense\n1\n"u8.ToArray(), "?dry_run=true")).Status);
        Assert.Equal(1, await bed.CountAsync("access_records where kind = 'read' and infant_count = 0"));
    }

    /// <summary>The rows of one file in every format that says the same.</summary>
    public static readonly TheoryData<string> Formats = ["csv", "csv.gz", "xlsx", "json", "json.gz", "ndjson", "hl7", "fwf"];

    [Theory]
    [MemberData(nameof(Formats))]
    public async Task Whatever_the_format_what_is_tried_is_what_is_sent(string format)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var site = format == "fwf" ? await bed.AddSiteAsync("records", Registry.Records.SiteKind.VitalRecords) : bed.Harbour;
        if (format != "fwf") await bed.SendAsync(Before);
        using var client = await bed.ClientAsync(site);
        var (bytes, type, coding) = await SentFiles.OfAsync(format, File);
        var (status, trial, _) = await client.SendAsync(bytes, "?dry_run=true", type, coding);
        Assert.True(status == HttpStatusCode.OK, trial.ToString());
        Assert.Equal(format == "fwf" ? 0 : 1, await bed.CountAsync("submissions"));
        client.DefaultRequestHeaders.Accept.Add(new("application/json"));
        var (_, sent, _) = await client.SendAsync(bytes, "", type, coding);
        Assert.Equal(Rows(sent["rows"]!), Rows(trial["outcomes"]!));
        Assert.True(Rows(trial["outcomes"]!).Select(r => r.Split('|')[1]).Distinct().Count() > 1, trial.ToString());
    }

    [Fact]
    public async Task Nobody_waits_for_a_dry_run()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.ClientAsync(bed.Harbour);
        await bed.SendAsync(Before);
        // The infant and its birth day are locked by somebody else: a dry run does not ask for them.
        await using var other = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);
        await using var transaction = await other.BeginTransactionAsync(IntakeBed.Ct);
        await using (var command = new Npgsql.NpgsqlCommand(
            "select id from infants for update; select pg_advisory_xact_lock(1651078760, d) from generate_series(0, 63) d", other))
            await command.ExecuteNonQueryAsync(IntakeBed.Ct);
        using var soon = new CancellationTokenSource(Eventually.Patience);
        using var content = new ByteArrayContent(Encoding.UTF8.GetBytes(File));
        content.Headers.ContentType = new("text/csv");
        using var answer = await client.PostAsync("/api/v1/submissions?dry_run=true", content, soon.Token);
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
    }

    private static List<string> Rows(JsonNode rows) =>
        [.. rows.AsArray().Select(
            r => $"{r!["row"]}|{r["outcome"]}|{r["line"]}|{r["kind"]}|{r["heldReason"]}|{r["problems"]!.ToJsonString()}")];

    /// <summary>How many rows ever came into and went out of each table: more than what is there to see.</summary>
    private static async Task<string> EverythingAsync(IntakeBed bed)
    {
        var tables = await bed.ListAsync(
            "select quote_ident(tablename) from pg_tables where schemaname = 'public' and tablename not in ('access_records', "
            + "'site_keys') order by 1");
        var counts = new List<string>();
        foreach (var table in tables) counts.Add($"{table} {await bed.CountAsync(table)}");
        return string.Join('\n', counts) + "\n" + string.Join(
            '\n', await bed.ListAsync("select infant_id || ' ' || t::text from infant_status t order by 1"));
    }
}
