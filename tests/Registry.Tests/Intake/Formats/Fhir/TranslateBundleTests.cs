using System.Text;
using Hl7.Fhir.Model;
using Registry.Intake.Formats.Fhir;
using Registry.Intake.Rows;
using static Registry.Tests.Fhir.FhirBed;
using BundleType = Hl7.Fhir.Model.Bundle.BundleType;

namespace Registry.Tests.Intake.Formats.Fhir;

/// <summary>What resources say in rows: codes by their system, ears, times, absences, what stands beside a result.</summary>
public sealed class TranslateBundleTests
{
    private const string Snomed = "http://snomed.info/sct";
    private static readonly TimeZoneInfo NewYork = TimeZoneInfo.FindSystemTimeZoneById("America/New_York");

    [Theory]
    [InlineData(Loinc, "LA10392-1", null, "pass")]
    [InlineData(Snomed, "183924009", null, "refer")]
    [InlineData(Loinc, "LA12408-3", null, "no_valid_result other")]
    [InlineData(Snomed, "103709008", null, "no_valid_result other")]
    [InlineData(Snomed, "397745006", null, "not_performed medical_exclusion")]
    [InlineData(Loinc, "LA6644-4", null, "not_performed declined")]
    [InlineData("urn:x-registry:outcome", "refer", null, "refer")]
    [InlineData(Loinc, "LA10392-1", "Did not pass", "pass ! value.coding: the name beside the code is not the code's; the code was taken")]
    [InlineData(Loinc, "P", "Pass",
        "http://loinc.org|P ? value: no known code: an answer of LOINC 54109-4 / 54108-6 or its SNOMED CT code, looked up by code and "
        + "system")]
    [InlineData(Snomed, "LA10392-1", null,
        "http://snomed.info/sct|LA10392-1 ? value: no known code: an answer of LOINC 54109-4 / 54108-6 or its SNOMED CT code, looked up "
        + "by code and system")]
    public void A_result_is_read_by_code_and_system(string system, string code, string? display, string expected)
    {
        var result = Result("#");
        result.Value = new CodeableConcept { Coding = [new(system, code, display)] };
        Assert.Equal(expected, Told(result, Field.Outcome, Field.Reason));
    }

    [Fact]
    public void Codings_of_one_value_must_agree()
    {
        var result = Result("#");
        result.Value = new CodeableConcept { Coding = [new(Loinc, "LA10392-1"), new(Snomed, "183924009")] };
        Assert.Equal("http://loinc.org|LA10392-1, http://snomed.info/sct|183924009 ? value: its codings contradict each other",
            Told(result, Field.Outcome));
        result.Value = new CodeableConcept { Coding = [new("urn:x-local", "REF"), new(Loinc, "LA10393-9"), new(Snomed, "183924009")] };
        Assert.Equal("refer", Told(result, Field.Outcome));
    }

    [Theory]
    [InlineData("54109-4", "25577004", "right")]
    [InlineData("54108-6", "89644007", "left")]
    [InlineData("54108-6", "25577004",
        "left, http://snomed.info/sct|25577004 ? bodySite: contradicts the ear of the code: 25577004 is the right ear, 89644007 the left")]
    [InlineData("54109-4", "89644007",
        "right, http://snomed.info/sct|89644007 ? bodySite: contradicts the ear of the code: 25577004 is the right ear, 89644007 the left")]
    [InlineData("54109-4", "117590005", "right")]
    public void The_code_names_the_ear_and_a_body_site_must_not_contradict_it(string code, string site, string expected)
    {
        var result = Result("#", code: code);
        result.BodySite = new(Snomed, site);
        Assert.Equal(expected, Told(result, Field.Ear));
    }

    [Theory]
    [InlineData("2026-11-21T09:15:00-05:00", "2026-11-21T09:15")]
    [InlineData("2026-11-21T03:15:30.250Z", "2026-11-20T22:15:30")]
    [InlineData("2026-07-01T00:30:00+02:00", "2026-06-30T18:30")]
    [InlineData("2026-11-21", "2026-11-21 ? effective: must state a time of day with its offset")]
    [InlineData("2026", "2026 ? effective: must state a time of day with its offset")]
    public void Times_are_the_regions(string stated, string expected) =>
        Assert.Equal(expected, Told(Result("#", at: stated), Field.PerformedAt));

    [Fact]
    public void An_absence_has_its_reason_beside_it_in_a_component_or_in_itself()
    {
        Observation absent(params Coding[] codings) => new()
        {
            Status = ObservationStatus.Final,
            Code = new(Loinc, "54108-6"),
            Subject = new("#"),
            Effective = new FhirDateTime("2026-11-21"),
            DataAbsentReason = new() { Coding = [.. codings] },
        };
        var notDone = new Coding("http://terminology.hl7.org/CodeSystem/data-absent-reason", "not-performed");
        Assert.Equal("not_performed other 2026-11-21T00:00", Told(absent(notDone), Field.Outcome, Field.Reason, Field.PerformedAt));
        Assert.Equal("not_performed medical_exclusion", Told(absent(notDone, new(Snomed, "410534003")), Field.Outcome, Field.Reason));
        Assert.Equal("not_performed declined", Told(absent(new Coding(notDone.System, "asked-declined")), Field.Outcome, Field.Reason));
        Assert.StartsWith("http://terminology.hl7.org/CodeSystem/data-absent-reason|error ? dataAbsentReason: must be not-performed",
            Told(absent(new Coding(notDone.System, "error")), Field.Outcome), StringComparison.Ordinal);

        var beside = new Observation
        {
            Status = ObservationStatus.Final,
            Code = new(Loinc, "73739-5"),
            Subject = new("#"),
            Value = new CodeableConcept("urn:x-registry:reason", "transferred")
        };
        Assert.Equal(["not_performed transferred"], Rows([absent(notDone), beside], Field.Outcome, Field.Reason));
        beside.Code = new(Loinc, "73742-9");
        Assert.Equal(["not_performed other", "? entry[1].resource.effective: is required"],
            Rows([absent(notDone), beside], Field.Outcome, Field.Reason)
            .Select(r => r.Replace("not_performed transferred ", "", StringComparison.Ordinal)));

        var both = Result("#");
        both.DataAbsentReason = new(notDone.System!, notDone.Code!);
        Assert.Contains("obs-6", Told(both, Field.Outcome), StringComparison.Ordinal);
    }

    [Fact]
    public void Method_duration_and_device_may_stand_beside_the_result()
    {
        var result = Result("#");
        result.Method = null;
        result.Device = new(Urn(8));
        var method = new Observation
        {
            Status = ObservationStatus.Final,
            Code = new(Loinc, "54106-0"),
            Subject = new("#"),
            Value = new CodeableConcept(Loinc, "LA10390-5")
        };
        var duration = new Observation
        {
            Status = ObservationStatus.Final,
            Code = new(Loinc, "73743-7"),
            Subject = new("#"),
            Value = new Quantity(1.5m, "min")
        };
        var (instrument, probe) = (new Device { SerialNumber = "AB-17" }, new Device { SerialNumber = "P-3", Parent = new(Urn(9)) });
        Assert.Equal(["dpoae 90 AB-17 P-3"], Rows([duration, (Urn(8), probe), result, (Urn(9), instrument), method], Field.Method,
            Field.DurationSeconds, Field.Instrument, Field.Probe));
        duration.Code = new(Loinc, "73740-3");
        Assert.Equal(["dpoae AB-17 P-3"], Rows([result, method, duration, (Urn(8), probe), (Urn(9), instrument)], Field.Method,
            Field.DurationSeconds, Field.Instrument, Field.Probe));
    }

    [Fact]
    public void A_procedure_that_was_not_done_speaks_of_both_ears_or_of_those_it_names()
    {
        var procedure = new Procedure
        {
            Status = EventStatus.NotDone,
            Code = new(Loinc, "54111-0"),
            Subject = new("#"),
            StatusReason = new(Snomed, "183948000"),
            Performed = new FhirDateTime("2026-11-22"),
        };
        Assert.Equal(["right declined", "left declined"], Rows([procedure], Field.Ear, Field.Reason));
        procedure.BodySite.Add(new(Snomed, "89644007"));
        Assert.Equal(["left declined"], Rows([procedure], Field.Ear, Field.Reason));
        procedure.Code = new(Loinc, "54109-4");
        Assert.Equal("right, left declined ? bodySite: contradicts the ear of the code", Told(procedure, Field.Ear, Field.Reason));
    }

    [Theory]
    [InlineData("8339-4", 3240, "g", "3240")]
    [InlineData("8339-4", 3.24, "kg", "3240")]
    [InlineData("57714-8", 39, "wk", "39")]
    [InlineData("57714-8", 279, "d", "39")]
    [InlineData("8339-4", 7, "[lb_av]", "7 [lb_av] ? value: is not a quantity in g or kg (UCUM)")]
    public void Measures_of_the_birth_are_converted(string code, double value, string unit, string expected)
    {
        var observation = new Observation
        {
            Status = ObservationStatus.Final,
            Code = new(Loinc, code),
            Subject = new(Urn(1)),
            Value = new Quantity((decimal)value, unit)
        };
        Assert.Equal([expected], Rows([observation, (Urn(1), Patient("1"))], code == "8339-4" ? Field.BirthWeightG : Field.GestationWeeks)
            .Select(r => r.Replace("entry[0].resource.", "", StringComparison.Ordinal)));
    }

    [Theory]
    [InlineData("LA12412-5", "2")]
    [InlineData("LA12411-7", "1")]
    public void Plurality_is_an_answer_and_not_the_birth_order(string answer, string expected)
    {
        var patient = Patient("1");
        patient.MultipleBirth = new Integer(1);
        Assert.Equal("1", Told(patient, Field.BirthOrder, Field.Plurality));
        var plurality = new Observation
        {
            Status = ObservationStatus.Final,
            Code = new(Loinc, "57722-1"),
            Subject = new(Urn(1)),
            Value = new CodeableConcept(Loinc, answer)
        };
        Assert.Equal([$"1 {expected}"], Rows([plurality, (Urn(1), patient)], Field.BirthOrder, Field.Plurality));
    }

    [Fact]
    public void Risk_answers_make_rows_and_none_makes_none()
    {
        Observation risk(string code) => new()
        {
            Status = ObservationStatus.Final,
            Code = new(Loinc, "58232-0"),
            Subject = new("#"),
            Effective = new FhirDateTime("2026-11-22"),
            Value = new CodeableConcept(Loinc, code)
        };
        Assert.Equal(["family_history", "caregiver_concern 2026-11-22"],
            Rows([risk("LA137-2"), risk("LA6172-6"), risk("LA12670-8"), risk("LA12667-4")], Field.Indicator, Field.NotedOn));
        Assert.StartsWith("http://loinc.org|LA1 ? value: no known code", Told(risk("LA1"), Field.Indicator), StringComparison.Ordinal);

        // LOINC's list says only "in utero infection": our own code beside it says which.
        var which = risk("LA12674-0");
        ((CodeableConcept)which.Value!).Coding.Add(new(FhirSystems.Risk, "congenital_cmv"));
        Assert.Equal(["congenital_cmv"], Rows([which], Field.Indicator));
    }

    [Fact]
    public void What_may_change_the_meaning_is_refused()
    {
        var result = Result("#");
        result.ModifierExtension.Add(new("urn:x-negated", new FhirBoolean(true)));
        Assert.StartsWith("? resource: has a modifierExtension", Told(result, Field.Outcome), StringComparison.Ordinal);
        var dead = Patient("1");
        dead.Deceased = new FhirBoolean(true);
        Assert.Equal("? deceased: a death needs its date: send deceasedDateTime", Told(dead, Field.DiedOn));
    }

    /// <summary>As many pairs as a Bundle can ask for take well under the time a request may.</summary>
    [Fact]
    public void Many_observations_beside_many_results_are_paired_in_time()
    {
        var entries = Enumerable.Range(0, 500).SelectMany(i => new (string?, Resource)[]
        {
            (null, Result("#", at: $"2026-11-21T{i / 60 % 24:00}:{i % 60:00}:00Z")),
            (null, new Observation { Status = ObservationStatus.Final, Code = new(Loinc, "54106-0"), Subject = new("#"),
                Value = new CodeableConcept(Loinc, "LA10390-5") }),
        }).ToArray();
        var clock = System.Diagnostics.Stopwatch.StartNew();
        Assert.Equal(500, Translate(entries).Rows.Count);
        Assert.True(clock.Elapsed < TimeSpan.FromMinutes(1), clock.Elapsed.ToString());
    }

    private static string Told(Resource resource, params Field[] fields) => Rows([resource], fields)[0];

    /// <summary>A row: the values of the columns, <c>?</c> problems, <c>!</c> warnings; paths without the entry where there is one
    /// entry.</summary>
    private static List<string> Rows(Entry[] entries, params Field[] fields)
    {
        var bundle = Translate([.. entries.Select(e => (e.Url, e.Resource))]);
        return [.. bundle.Rows.Select(row => string.Join(' ',
        [
            .. fields.Where(row.Values.ContainsKey).Select(f => row.Values[f]),
            .. row.Problems.Select(p => $"? {Short(row.PathOf(p.Field))}: {p.Reason}"),
            .. bundle.Entries[row.Entry].Issues.Where(i => i.Severity == OperationOutcome.IssueSeverity.Warning)
                .Select(i => $"! {Short(i.Expression)}: {i.Text}"),
        ]))];

        string Short(string path) => path.Replace("Bundle.", "", StringComparison.Ordinal)
            .Replace(entries.Length == 1 ? "entry[0].resource." : "~", "", StringComparison.Ordinal)
                .Replace(entries.Length == 1 ? "entry[0]." : "~", "", StringComparison.Ordinal);
    }

    private static TranslatedBundle Translate((string? Url, Resource Resource)[] entries)
    {
        // "#": somebody the registry is told of by an identifier.
        foreach (var (_, resource) in entries)
        {
            if (resource is Observation { Subject.Reference: "#" } o) o.Subject = new() { Identifier = new("urn:x-test", "1") };
            if (resource is Procedure { Subject.Reference: "#" } p) p.Subject = new() { Identifier = new("urn:x-test", "1") };
        }

        var parsed = ParseBundle.Read(Encoding.UTF8.GetBytes(Json(Bundle(BundleType.Batch, entries))));
        Assert.Empty(parsed.Issues);
        return TranslateBundle.Run(parsed, NewYork, new Dictionary<Guid, KnownPatient>());
    }

    private readonly record struct Entry(string? Url, Resource Resource)
    {
        public static implicit operator Entry(Resource resource) => new(null, resource);
        public static implicit operator Entry((string Url, Resource Resource) entry) => new(entry.Url, entry.Resource);
    }
}
