using System.Text;
using Hl7.Fhir.Model;
using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.HeldRows;
using Registry.Records;
using Registry.Tests.Fhir;
using Registry.Tests.Intake.Formats.Hl7V2;
using Registry.Tests.Intake.Formats.Workbooks;
using Role = Registry.Records.Role;
using Task = System.Threading.Tasks.Task;

namespace Registry.Tests.Intake.Rows;

/// <summary>The tests of a diagnostic evaluation go with it: in every format, through completion, contradiction, corrections, undo and the
/// export, for those who see the infant.</summary>
public sealed class EvaluationRowsTests(TestDatabase database)
{
    private const string Birth = "kind,record_number,birth_date,sex\nbirth,A1,2026-05-01,female\n";
    private const string Columns =
        "action,kind,record_number,evaluated_on,right_finding,left_finding,right_degree,left_degree,evaluator,evaluation_place,"
        + "behavioral_method,air_transducer,right_air,left_air,right_bone,sound_field,right_tympanogram_low,right_tympanogram_high,"
        + "right_emissions,emissions_method,right_abr,left_abr_bone,abr_scale,abr_correction\n";

    private const string Whole =
        "E. Vale,Room 2,visual_reinforcement,insert_earphones,500:45;1000:45;2000:50m;4000:>110,500:10,500:40m,1000:25,type_b,peaked,"
        + "absent,dpoae,click:60;2000:55,500:15,ehl,the clinic's table";

    private static string Row(string rest, string finding = "sensorineural", string degree = "moderate", string action = "") =>
        $"{action},diagnosis,A1,2026-11-20,{finding},normal,{degree},,{rest}\n";

    private static readonly string Nothing = new(',', 15);

    /// <summary>What is recorded, and holds, of the evaluation.</summary>
    private static Task<List<string>> RecordedAsync(IntakeBed bed) => bed.ListAsync(
        """
        select concat_ws('|', d.right_finding, d.right_degree, d.left_finding, d.evaluator, d.evaluation_place, t.behavioral_method,
            t.air_transducer, t.right_air, t.left_air, t.right_bone, t.sound_field, t.right_tympanogram_low, t.right_tympanogram_high,
            t.right_emissions,
            t.emissions_method, t.right_abr, t.left_abr_bone, t.abr_scale, t.abr_correction)
          from diagnoses d left join evaluation_details t on t.diagnosis_id = d.id where d.superseded_at is null order by 1
        """);

    private static readonly string Recorded = "sensorineural|moderate|normal|" + Whole.Replace(',', '|');

    private static async Task<List<string>> SendAsync(IntakeBed bed, string rows) =>
        await bed.OutcomesAsync(await bed.SendAsync(Columns + rows));

    private async Task<IntakeBed> BornAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Birth);
        return bed;
    }

    [Fact]
    public async Task It_is_stored_once_completed_contradicted_corrected_and_retracted_with_its_diagnosis()
    {
        await using var bed = await BornAsync();
        // What is missing is asked, and the row is accepted.
        Assert.Equal(
            ["accepted behavioral_method: look again: how the child showed that it heard is not stated; "
                + "air_transducer: look again: which earphones were used is not stated"],
            await SendAsync(bed, Row(",,,,500:45" + new string(',', 11))));
        Assert.Equal(["accepted", "unchanged", "unchanged"], await SendAsync(bed, Row(Whole) + Row(Whole) + Row(Nothing)));
        Assert.Equal([Recorded], await RecordedAsync(bed));
        Assert.Equal(["held contradicts_record", "held contradicts_record"],
            await SendAsync(bed, Row(",,,,500:50" + new string(',', 11)) + Row("Somebody else" + new string(',', 15))));

        var corrected = Row(",,,,500:70;2000:>100" + new string(',', 11), degree: "severe", action: "correct");
        Assert.StartsWith("accepted", Assert.Single(await SendAsync(bed, corrected)), StringComparison.Ordinal);
        Assert.Equal(["sensorineural|severe|normal|500:70;2000:>100"], await RecordedAsync(bed));
        Assert.Equal(["accepted"], await SendAsync(bed, $"retract,diagnosis,A1,2026-11-20,,,,,{Nothing}\n"));
        Assert.DoesNotContain("500:70;2000:>100", string.Join('\n', await RecordedAsync(bed)), StringComparison.Ordinal);
        foreach (var sql in (string[])["update diagnosis_thresholds set level_db = 0", "delete from diagnosis_details"])
            Assert.Equal("23000", (await Assert.ThrowsAsync<Npgsql.PostgresException>(() => bed.App.AsOwnerAsync(sql))).SqlState);
    }

    [Fact]
    public async Task What_is_wrong_is_named_with_its_field()
    {
        await using var bed = await BornAsync();
        Assert.Equal(
            [
                "rejected right_air: 500 Hz: the level is not between -10 and 120 dB; right_bone: threshold 1: the frequency is not one of "
                    + "250, 500, 750, 1000, 1500, 2000, 3000, 4000 Hz; sound_field: 500 Hz: nothing is masked in the sound field",
                "rejected right_tympanogram_low: unknown code; it is one of: type_a, type_as, type_ad, type_b, type_c, no_valid_result; "
                    + "right_tympanogram_high: unknown code; it is one of: peaked, flat, no_valid_result; emissions_method: unknown code; "
                    + "it is one of: oae, teoae, dpoae",
                "rejected abr_scale: is required with thresholds by brainstem response: nhl or ehl",
                "rejected abr_correction: is required with ehl: by what dB nHL was corrected",
                "rejected abr_correction: belongs to ehl only",
                "rejected right_air: does not belong to an ear that was not evaluated",
            ],
            await SendAsync(bed, Row(",,,,500:130,,8000:10,500:10m,,,,,,,,") + Row(",,,,,,,,peaked,type_a,,aabr,,,,")
                + Row(",,,,,,,,,,,,click:40,,,")
                + Row(",,,,,,,,,,,,click:40,,ehl,") + Row(",,,,,,,,,,,,click:40,,nhl,x")
                + Row(",,,,500:10,,,,,,,,,,,", "not_evaluated", "")));
    }

    [Fact]
    public async Task A_decision_taken_back_restates_the_diagnosis_with_its_tests()
    {
        await using var bed = await BornAsync();
        var by = new Decider((await bed.AddPersonAsync(Role.Coordinator)).Id);
        await SendAsync(bed, Row(Whole));
        var id = await bed.SendAsync(Columns + Row(",,,,500:70" + new string(',', 11), degree: "severe"));
        var infant = new InfantId(Guid.Parse((await bed.ListAsync("select id from infants"))[0]));
        for (var again = 0; again < 2; again++)
        {
            Assert.Null((await bed.App.Services.GetRequiredService<DecideRow>().MatchAsync(id, 1, infant, by, IntakeBed.Ct)).Refusal);
            Assert.Equal(["sensorineural|severe|normal|500:70"], await RecordedAsync(bed));
            Assert.Null(await bed.App.Services.GetRequiredService<TakeBackDecision>().RunAsync(id, 1, by, null, IntakeBed.Ct));
            Assert.Equal([Recorded], await RecordedAsync(bed));
        }
    }

    [Fact]
    public async Task It_is_on_the_record_and_in_the_export_and_nobody_else_reads_it()
    {
        await using var bed = await BornAsync();
        // What does not fit is said in the answer, and the row is accepted.
        Assert.Equal(["accepted right_degree: look again: the degree is not the band the average of the thresholds falls in (Clark 1981)"],
            await SendAsync(bed, Row(Whole.Replace("2000:50m", "2000:50", StringComparison.Ordinal), degree: "mild")));
        var infant = (await bed.ListAsync("select id from infants"))[0];
        using var harbour = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var record = await harbour.GetStringAsync($"/infants/{infant}", IntakeBed.Ct);
        Assert.Contains("aria-label=\"Audiogram. Right ear, air: 500 Hz 45; 1,000 Hz 45; 2,000 Hz 50; 4,000 Hz no response at 110.", record,
            StringComparison.Ordinal);
        Assert.Contains("Thresholds by ABR, dB eHL, corrected by the clinic&#x27;s table", record, StringComparison.Ordinal);
        Assert.Contains("Right ear: the degree is not the band", record, StringComparison.Ordinal);
        Assert.Contains("evaluated by E. Vale", record, StringComparison.Ordinal);
        using var hill = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        Assert.Equal(System.Net.HttpStatusCode.NotFound, (await hill.GetAsync($"/infants/{infant}", IntakeBed.Ct)).StatusCode);

        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var facts = await coordinator.GetStringAsync("/api/v1/export/facts", IntakeBed.Ct);
        Assert.Contains("\"right_air\": \"500:45;1000:45;2000:50;4000:>110\"", facts, StringComparison.Ordinal);
        Assert.DoesNotContain("E. Vale", facts, StringComparison.Ordinal);
        var kept = await coordinator.GetStringAsync($"/infants/{infant}/kept?handler=Json", IntakeBed.Ct);
        Assert.Contains("E. Vale", kept, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(SubmissionFormat.Csv)]
    [InlineData(SubmissionFormat.Json)]
    [InlineData(SubmissionFormat.Xlsx)]
    [InlineData(SubmissionFormat.Hl7V2)]
    [InlineData(SubmissionFormat.Fhir)]
    public async Task Every_format_states_the_same(SubmissionFormat format)
    {
        await using var bed = await BornAsync();
        var (names, values) = (Columns.Trim().Split(','), Row(Whole).Trim().Split(','));
        var stated = names.Zip(values).Where(c => c.Second.Length > 0).ToList();
        var sent = format switch
        {
            SubmissionFormat.Csv => await bed.SendAsync(Columns + Row(Whole)),
            SubmissionFormat.Json => await bed.SendAsync(
                System.Text.Json.JsonSerializer.Serialize(new { rows = new[] { stated.ToDictionary(c => c.First, c => c.Second) } }),
                format: format),
            SubmissionFormat.Xlsx => await bed.SendFileAsync(Workbook(stated), format),
            SubmissionFormat.Hl7V2 => await bed.SendAsync(Messages.Lines(Message), format: format),
            _ => await bed.SendFileAsync(Encoding.UTF8.GetBytes(FhirBed.Json(Bundle())), format),
        };
        Assert.Equal(["accepted"], await bed.OutcomesAsync(sent));
        Assert.Equal([Recorded], await RecordedAsync(bed));
    }

    private static byte[] Workbook(List<(string Name, string Value)> stated) => TestWorkbook.Of(
        $"<row r=\"1\">{string.Concat(stated.Select((_, i) => $"<c r=\"{Letter(i)}1\" t=\"s\"><v>{i}</v></c>"))}</row>"
            + $"<row r=\"2\">{string.Concat(stated.Select((_, i) =>
                $"<c r=\"{Letter(i)}2\" t=\"s\"><v>{stated.Count + i}</v></c>"))}</row>",
        [.. stated.Select(c => c.Name), .. stated.Select(c => c.Value)], []);

    private static char Letter(int column) => (char)('A' + column);

    private static readonly string[] Message =
    [
        "MSH|^~\\&|A|HARBOUR|C|D|20261120||ORU^R01^ORU_R01|1|P|2.6", "PID|1||A1^^^HARBOUR^MR||||20260501|F",
        "OBR|1||1|98418-7^Diagnostic audiology results panel^LN|||20261120||||||||||||||||||F",
        "OBX|1|CWE|98426-0^^LN||sensorineural^^99REGISTRY||||||F|||||E. Vale",
        "OBX|2|CWE|98421-1^^LN||normal^^99REGISTRY||||||F",
        "OBX|3|CWE|98427-8^^LN||moderate^^99REGISTRY||||||F", "OBX|4|NM|89025-1^^LN||45|dB|||||F",
        "OBX|5|NM|89017-8^^LN||45|dB|||||F", "OBX|22|SN|89023-6^^LN||>^110|dB|||||F",
        "OBX|6|ST|right_air^^99REGISTRY||2000:50m||||||F", "OBX|7|NM|89024-4^^LN||10|dB|||||F",
        "OBX|8|ST|right_bone^^99REGISTRY||500:40m||||||F", "OBX|9|ST|sound_field^^99REGISTRY||1000:25||||||F",
        "OBX|10|ST|right_tympanogram_low^^99REGISTRY||type_b||||||F", "OBX|11|ST|right_tympanogram_high^^99REGISTRY||peaked||||||F",
        "OBX|12|ST|right_emissions^^99REGISTRY||absent||||||F", "OBX|13|ST|emissions_method^^99REGISTRY||dpoae||||||F",
        "OBX|14|NM|98482-3^^LN||60|dB|||||F", "OBX|15|ST|right_abr^^99REGISTRY||2000:55||||||F",
        "OBX|16|ST|left_abr_bone^^99REGISTRY||500:15||||||F", "OBX|17|ST|abr_scale^^99REGISTRY||ehl||||||F",
        "OBX|18|ST|abr_correction^^99REGISTRY||the clinic's table||||||F", "OBX|19|ST|evaluation_place^^99REGISTRY||Room 2||||||F",
        "OBX|20|ST|behavioral_method^^99REGISTRY||visual_reinforcement||||||F",
        "OBX|21|ST|air_transducer^^99REGISTRY||insert_earphones||||||F",
    ];

    private static Bundle Bundle()
    {
        var observation = new Observation
        {
            Status = ObservationStatus.Final,
            Code = new("http://loinc.org", "98418-7"),
            Subject = new() { Identifier = new("urn:x-harbour:numbers", "A1") },
            Effective = new FhirDateTime("2026-11-20"),
            Performer = [new() { Type = "Practitioner", Display = "E. Vale" }],
        };
        Coded("98426-0", "finding", "sensorineural");
        Coded("98421-1", "finding", "normal");
        Coded("98427-8", "degree", "moderate");
        Level("89025-1", 45);
        Level("89017-8", 45);
        Level("89023-6", 110, Quantity.QuantityComparator.GreaterThan);
        Level("89024-4", 10);
        Level("98482-3", 60);
        foreach (var (column, value) in new[]
        {
            ("right_air", "2000:50m"), ("right_bone", "500:40m"), ("sound_field", "1000:25"), ("right_tympanogram_low", "type_b"),
            ("right_tympanogram_high", "peaked"), ("right_emissions", "absent"), ("emissions_method", "dpoae"), ("right_abr", "2000:55"),
            ("left_abr_bone", "500:15"), ("abr_scale", "ehl"), ("abr_correction", "the clinic's table"), ("evaluation_place", "Room 2"),
            ("behavioral_method", "visual_reinforcement"), ("air_transducer", "insert_earphones"),
        }) Add(new("urn:x-registry:field", column), new FhirString(value));
        return FhirBed.Bundle(Hl7.Fhir.Model.Bundle.BundleType.Batch, [(null, observation)]);

        void Add(CodeableConcept code, DataType value) => observation.Component.Add(new() { Code = code, Value = value });
        void Coded(string loinc, string system, string code) =>
            Add(new("http://loinc.org", loinc), new CodeableConcept($"urn:x-registry:{system}", code));
        void Level(string loinc, decimal db, Quantity.QuantityComparator? comparator = null) =>
            Add(new("http://loinc.org", loinc), new Quantity(db, "dB", "http://unitsofmeasure.org") { Comparator = comparator });
    }

    [Fact]
    public async Task The_provider_after_discharge_is_recorded_encrypted()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Messages.Lines(
            "MSH|^~\\&|A|HARBOUR|C|D|20261120||ORU^R01^ORU_R01|1|P|2.6", "PID|1||A1^^^HARBOUR^MR||||20261118|F", "PV1|1|I|NURSERY^1|N",
            "OBR|1||1|54111-0^^LN|||202611190915", "OBX|1|XCN|62324-9^Post-discharge provider Name^LN||77^Quist^Ilse||||||F"),
            format: SubmissionFormat.Hl7V2);
        var kept = Assert.Single(await bed.ListAsync("select post_discharge_provider from births"));
        Assert.DoesNotContain("Quist", kept, StringComparison.Ordinal);
        using var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var infant = (await bed.ListAsync("select id from infants"))[0];
        Assert.Contains("cared for by Ilse Quist after discharge", await client.GetStringAsync($"/infants/{infant}", IntakeBed.Ct),
            StringComparison.Ordinal);
    }
}
