using Hl7.Fhir.Model;
using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.HeldRows;
using Registry.Intake.HeldRows.Bulk;
using Registry.Intake.Rows;
using Registry.Intake.Submissions;
using Registry.Records;
using Registry.Tests.Fhir;
using Registry.Tests.Intake.Formats.Hl7V2;
using Registry.Tests.Intake.Formats.Workbooks;
using Task = System.Threading.Tasks.Task;

namespace Registry.Tests.Intake.Formats;

/// <summary>What the reader of a file found is not forgotten when a person looks at the row again: the row's fields as kept do not show
/// it.</summary>
public sealed class ReaderProblemsTests(TestDatabase database)
{
    private const string Mapping = """{"columns":[{"header":"No","field":"record_number"},{"header":"Born","field":"birth_date","dateForm":"d.M.yyyy"},{"header":"Seen","field":"nicu_admitted_on","dateForm":"d.M.yyyy"},{"header":"S","field":"sex"}],"fixed":{"kind":"birth"}}""";

    private static DecideRow Decide(IntakeBed bed) => bed.App.Services.GetRequiredService<DecideRow>();

    /// <summary>A rejected row of each reader, what it says of the row, and the column that answers it (null: only "it is right as it
    /// stands").</summary>
    public static TheoryData<string, string, string?> Rows => new()
    {
        { "csv", "card_id: holds a control character", "card_id" },
        { "mapping", "nicu_admitted_on: is not of the form d.M.yyyy", "nicu_admitted_on" },
        { "ndjson", "sex: is stated twice", "sex" },
        { "ndjson unknown", "colour: unknown field", null },
        { "xlsx", "card_id: the cell shows an error", "card_id" },
        { "fixed width", "is longer than 308 characters", null },
        { "hl7", "action: unknown code; OBX-11 is one of: F, P, C, D, W", "action" },
        { "hl7 twins", "plurality: contradicts PID-24 (not a multiple birth)", "plurality" },
        { "fhir", "action: must be final, preliminary, amended, corrected or entered-in-error", "action" },
    };

    private static async Task<(SubmissionId Id, int Row)> SendAsync(IntakeBed bed, string file)
    {
        switch (file)
        {
            case "csv":
                return (await bed.SendAsync("kind,record_number,card_id,birth_date,sex\nbirth,A1,C\u00019,2026-11-01,female\n"), 1);
            case "mapping":
                await bed.AddMappingAsync("births", Mapping);
                return (await bed.SendAsync("No,Born,Seen,S\nA1,1.11.2026,2-11-2026 late,female\n"), 1);
            case "ndjson":
                return (await bed.SendAsync("""{"kind":"birth","record_number":"A1","birth_date":"2026-11-01","sex":"male","sex":"female"}""", format: SubmissionFormat.Ndjson), 1);
            case "ndjson unknown":
                return (await bed.SendAsync("""{"kind":"birth","record_number":"A1","birth_date":"2026-11-01","sex":"female","colour":"blue"}""", format: SubmissionFormat.Ndjson), 1);
            case "xlsx":
                string[] header = ["kind", "record_number", "card_id", "birth_date", "sex"];
                var cells = string.Concat(header.Select((h, i) => $"""<c r="{(char)('A' + i)}1" t="inlineStr"><is><t>{h}</t></is></c>"""));
                string Text(char column, string value) => $"""<c r="{column}2" t="inlineStr"><is><t>{value}</t></is></c>""";
                return (await bed.SendFileAsync(TestWorkbook.Of(
                    $"""<row r="1">{cells}</row><row r="2">{Text('A', "birth")}{Text('B', "A1")}<c r="C2" t="e"><v>#N/A</v></c>{Text('D', "2026-11-01")}{Text('E', "female")}</row>""", [], []), SubmissionFormat.Xlsx), 1);
            case "fixed width":
                var office = await bed.AddSiteAsync("records", SiteKind.VitalRecords);
                var line = "B" + "2026-1".PadRight(20) + "harbour".PadRight(30) + "2026-11-01".PadRight(15) + "F";
                return (await bed.SendAsync($"HVITAL01\n{line.PadRight(308)}X\nT000000001\n", office, SubmissionFormat.FixedWidth), 1);
            case "hl7":
                return (await bed.SendAsync(Messages.Results(status: "X"), format: SubmissionFormat.Hl7V2), 1);
            case "hl7 twins":
                return (await bed.SendAsync(Messages.Lines(
                    "MSH|^~\\&|WARD|HARBOUR|REGISTRY|LINDMERE|20261121100000||ORU^R01^ORU_R01|R-1|P|2.6",
                    $"PID|1||4711^^^HARBOUR^MR||Marlow^Girl||20261120|F{new string('|', 16)}N", "PV1|1|I|NURSERY^1|N",
                    "OBR|1||1|54111-0^^LN|||202611210915",
                    "OBX|1|CWE|57722-1^Birth plurality of Pregnancy^LN|1|LA12412-5^Twins^LN||||||F"), format: SubmissionFormat.Hl7V2), 1);
            default:
                using (var client = await bed.FhirClientAsync(bed.Harbour))
                {
                    var test = FhirBed.Result(FhirBed.Urn(1));
                    test.Status = ObservationStatus.Cancelled;
                    await client.SendAsync(FhirBed.Bundle(Bundle.BundleType.Batch, (FhirBed.Urn(1), FhirBed.Patient("1")), (null, test)));
                }

                var row = (await bed.ListAsync(
                    "select concat_ws(' ', submission_id, row_number) from submission_rows where outcome = 'rejected'"))[0].Split(' ');
                return (new(Guid.Parse(row[0])), int.Parse(row[1], System.Globalization.CultureInfo.InvariantCulture));
        }
    }

    [Theory]
    [MemberData(nameof(Rows))]
    public async Task It_stays_until_a_person_answers_it(string file, string said, string? column)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var person = await bed.AddPersonAsync(Role.Coordinator);
        var by = new Decider(person.Id);
        var (id, row) = await SendAsync(bed, file);
        var before = (await bed.OutcomesAsync(id))[row - 1];
        Assert.Contains(said, before, StringComparison.Ordinal);
        var facts = await bed.CountAsync("births") + await bed.CountAsync("screenings");

        // Looked at again, alone and with others: nothing is recorded.
        Assert.Equal(WhyRefused.StillRejected, (await Decide(bed).AskAgainAsync(id, row, by, IntakeBed.Ct))!.Why);
        var choose = bed.App.Services.GetRequiredService<ChooseRows>();
        var bulk = (await choose.RunAsync(new(null), [(id, row)], person.Id, IntakeBed.Ct))!.Value;
        await bed.App.Services.GetRequiredService<StartBulkDecision>().DecideAsync(
            new() { Id = bulk, Kind = RowChangeKind.AskedAgain, DecidedBy = person.Id }, IntakeBed.Ct);
        await bed.App.Services.GetRequiredService<DecideInBulk>().RunAsync(bulk, IntakeBed.Ct);
        Assert.Equal(before, (await bed.OutcomesAsync(id))[row - 1]);

        // Another column does not answer it.
        var other = await Decide(bed)
            .CorrectAsync(id, row, fields => new Dictionary<Field, string>(fields) { [Field.MotherGivenName] = "Bea" }, by, IntakeBed.Ct);
        Assert.Contains(other.Problems, p => said == (p.Field is null ? p.Reason : $"{p.Field}: {p.Reason}"));
        Assert.Equal(before, (await bed.OutcomesAsync(id))[row - 1]);
        Assert.Equal(facts, await bed.CountAsync("births") + await bed.CountAsync("screenings"));
        Assert.Equal(0, await bed.CountAsync("row_changes"));

        // Its own column does, or the word of a person that the row is right as it stands.
        var value = column switch
        {
            "sex" => "male",
            "plurality" => "1",
            "action" => "report",
            "nicu_admitted_on" => "2026-11-02",
            _ => "C1",
        };
        var done = column is null
            ? await Decide(bed).CorrectAsync(id, row, fields => fields, by, IntakeBed.Ct, confirmed: [0])
            : await Decide(bed).CorrectAsync(id, row, fields => new Dictionary<Field, string>(fields)
            {
                [Registry.Rules.Facts.Codes.Parse<Field>(column)] = value,
            }, by, IntakeBed.Ct);
        Assert.True(done is { Refusal: null, Problems: [], Outcome: RowOutcome.Accepted or RowOutcome.Held },
            done.ToString() + string.Join("; ", done.Problems));
        Assert.Null(await bed.App.Services.GetRequiredService<TakeBackDecision>().RunAsync(id, row, by, null, IntakeBed.Ct));
        Assert.Equal(before, (await bed.OutcomesAsync(id))[row - 1]);
        Assert.Equal(WhyRefused.StillRejected, (await Decide(bed).AskAgainAsync(id, row, by, IntakeBed.Ct))!.Why);
    }

    [Theory]
    [MemberData(nameof(Rows))]
    public async Task It_stays_when_the_row_comes_back_as_it_is_in_the_file_of_rejected_rows(string file, string said, string? column)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var (id, _) = await SendAsync(bed, file);
        var facts = await bed.CountAsync("births") + await bed.CountAsync("screenings");
        const string waiting = "submission_rows where outcome = 'rejected' and discarded_at is null and problems::text like '%\"reader\"%'";
        var wrong = await bed.CountAsync(waiting);
        var site = new SiteId(Guid.Parse((await bed.ListAsync("select site_id from submissions where id = $1", id.Value))[0]));
        await using var scope = bed.App.Services.CreateAsyncScope();
        for (var time = 0; time < 2; time++)
        {
            var csv = new StringWriter();
            await WriteRejectedRows.RunAsync(scope.ServiceProvider.GetRequiredService<ReadSubmissions>(), id, csv, IntakeBed.Ct);
            id = await bed.SendAsync(csv.ToString(), site);
            Assert.Contains(await bed.OutcomesAsync(id), o => o.Contains(said, StringComparison.Ordinal));
        }

        Assert.Equal(facts, await bed.CountAsync("births") + await bed.CountAsync("screenings"));
        Assert.Equal(wrong, await bed.CountAsync(waiting));
        if (column != "action") return;

        // A result that was cancelled is stated all the same only by who says so.
        var answered = new StringWriter();
        await WriteRejectedRows.RunAsync(scope.ServiceProvider.GetRequiredService<ReadSubmissions>(), id, answered, IntakeBed.Ct);
        var lines = answered.ToString().Split('\n', StringSplitOptions.RemoveEmptyEntries);
        var place = Array.IndexOf(lines[0].Split(','), "action");
        var cells = lines[1].Split(',');
        cells[place] = "report";
        id = await bed.SendAsync($"{lines[0]}\n{string.Join(',', cells)}\n", site);
        Assert.DoesNotContain(await bed.OutcomesAsync(id), o => o.StartsWith("rejected", StringComparison.Ordinal));
        Assert.Equal(wrong - 1, await bed.CountAsync(waiting));
    }
}
