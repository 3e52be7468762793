using System.Globalization;
using System.Text;
using Hl7.Fhir.Model;
using Registry.Records;
using Registry.Tests.Fhir;
using Registry.Tests.Intake.Formats;
using Registry.Tests.Intake.Formats.Hl7V2;

namespace Registry.Tests.Intake.Applying;

/// <summary>A row as a site might send it, and the child it is about.</summary>
internal sealed record InventedRow(string Site, int Child, IReadOnlyDictionary<string, string> Fields)
{
    public string Kind => Fields["kind"];

    public override string ToString() =>
        $"{Site} {Child}: {string.Join(' ', Fields.Select(f => $"{f.Key}={f.Value}"))}";

    /// <summary>The text formats carry every row; HL7 v2 a result of a numbered child; FHIR that, if nothing else says who, and
    /// births.</summary>
    public bool Fits(SubmissionFormat format) => format switch
    {
        SubmissionFormat.Hl7V2 => Kind == "screening" && !Fields.ContainsKey("action") && Fields.ContainsKey("record_number"),
        SubmissionFormat.Fhir => !Fields.ContainsKey("action") && Fields.ContainsKey("record_number") && (Kind == "birth"
            ? !Fields.ContainsKey("plurality") && !Fields.ContainsKey("birth_weight_g")
            : Kind == "screening" && !Fields.Keys.Any(f => f is "sex" or "birth_date" or "birth_order"
                || f.StartsWith("mother", StringComparison.Ordinal))),
        _ => true,
    };
}

/// <summary>
/// Rows about some invented children of a few days, whose mothers share names and birth dates by chance, twins among them. Details are
/// partly stated. The same seed makes the same rows; the tag keeps the children of several worlds in one database apart: it is part of
/// every number and name, and moves the mothers' birth dates.
/// </summary>
internal sealed class InventRows
{
    private static readonly string[] Given = ["Ada", "Bea", "Cleo", "Dora"];
    private static readonly string[] Family = ["Marlow", "Quist", "Ness", "Lund"];
    private readonly List<(string Given, string Family, DateOnly Born)> _mothers = [];
    private readonly Random _random;
    private readonly string _tag;
    private readonly int _world;
    private readonly List<InventedRow> _rows = [];

    private sealed record Child(
        int Index, string Site, string Number, string? Card, DateOnly Born, string Sex, int Order, int Of, string Given, string Family,
        DateOnly MotherBorn);

    private InventRows(int seed, int world)
    {
        (_random, _tag, _world) = (new(seed), TagOf(world), world);
        var index = 0;
        for (var families = _random.Next(3, 7); families > 0; families--)
        {
            var site = Chance(0.6) ? "harbour" : "bay";
            var born = new DateOnly(2026, 3, 10).AddDays(_random.Next(2));
            var mother = Mother();
            var of = Chance(0.3) ? 2 : 1;
            for (var order = 1; order <= of; order++)
            {
                Report(new(index, site, $"{_tag}-{index}", Chance(0.7) ? $"{_tag}C{index}" : null, born, Chance(0.5) ? "female" : "male",
                    order, of, mother.Item1, mother.Item2, mother.Item3));
                index++;
            }
        }
    }

    private (string Given, string Family, DateOnly Born) Mother()
    {
        while (true)
        {
            var mother = (Given[_random.Next(4)], Family[_random.Next(4)] + _tag,
                new DateOnly(1995, 2, 3).AddYears(_random.Next(4)).AddDays(_world));
            if (_mothers.Exists(m => (m.Given == mother.Item1 ? 1 : 0) + (m.Family == mother.Item2 ? 1 : 0)
                + (m.Born == mother.Item3 ? 1 : 0) > 1)) continue;
            _mothers.Add(mother);
            return mother;
        }
    }

    public static IReadOnlyList<InventedRow> Of(int seed, int world) => new InventRows(seed, world)._rows;

    public static string TagOf(int world) => $"W{world:000}";

    private bool Chance(double p) => _random.NextDouble() < p;

    private void Report(Child child)
    {
        Add(child, child.Site, "birth", OfBirth(child, 0.85));
        if (Chance(0.2)) Add(child, child.Site, "birth", [.. OfBirth(child, 1), ("birth_weight_g", "3100")]);
        foreach (var ear in (string[])["right", "left"])
        {
            var refers = Chance(0.3);
            Test(child, child.Site, ear, refers ? "refer" : "pass", child.Born.AddDays(1), ear == "left" ? 20 : 15);
            if (!refers) continue;
            Test(child, "hill", ear, Chance(0.5) ? "refer" : "pass", child.Born.AddDays(14), ear == "left" ? 40 : 35);
            if (Chance(0.5))
            {
                Add(child, "hill", "diagnosis", [.. Who(child, "hill"), ("evaluated_on", Day(child.Born.AddDays(40))),
                    ("right_finding", "sensorineural"), ("left_finding", "normal")]);
            }
        }

        if (Chance(0.1)) Add(child, child.Site, "move", [.. Who(child, child.Site), ("move", "out_of_region"), ("moved_on", "2026-04-20")]);
        if (Chance(0.1)) Add(child, child.Site, "refusal",
            [.. Who(child, child.Site), ("step", "diagnosis"), ("refused_on", "2026-04-02")]);
    }

    private void Test(Child child, string site, string ear, string outcome, DateOnly on, int minute)
    {
        (string, string)[] named = [("ear", ear), ("method", "aabr"), ("performed_at", $"{Day(on)}T09:{minute:00}")];
        var corrected = Chance(0.1);
        Add(child, site, "screening",
            [.. Who(child, site), .. named, ("outcome", corrected == (outcome == "refer") ? "pass" : "refer")]);
        if (corrected) Add(child, site, "screening", [.. Who(child, site), .. named, ("outcome", outcome), ("action", "correct")]);
        if (!Chance(0.05)) return;
        (string, string)[] never = [("ear", ear), ("method", "aabr"), ("performed_at", $"{Day(on)}T11:{minute:00}")];
        Add(child, site, "screening", [.. Who(child, site), .. never, ("outcome", "refer")]);
        Add(child, site, "screening", [.. Who(child, site), .. never, ("action", "retract")]);
    }

    private List<(string, string)> OfBirth(Child child, double stated)
    {
        List<(string, string)> fields = [("birth_date", Day(child.Born))];
        if (child.Card is null || Chance(0.9)) fields.Add(("record_number", child.Number));
        if (child.Card is not null) fields.Add(("card_id", child.Card));
        if (Chance(0.95)) fields.Add(("sex", child.Sex));
        if (child.Of > 1 ? Chance(0.7) : Chance(0.3)) fields.Add(("plurality", $"{child.Of}"));
        if (child.Of > 1 && Chance(stated)) fields.Add(("birth_order", $"{child.Order}"));
        return [.. fields, .. Mother(child, stated)];
    }

    /// <summary>By number or card, of them three in ten with some details; or by details alone.</summary>
    private List<(string, string)> Who(Child child, string site)
    {
        List<(string, string)> fields = [];
        var byDetails = Chance(0.2);
        if (!byDetails && child.Card is not null && Chance(0.4)) fields.Add(("card_id", child.Card));
        else if (!byDetails) fields.Add(("record_number", site == child.Site ? child.Number : $"{child.Number}-{site}"));
        if (byDetails)
            return [("birth_date", Day(child.Born)), ("sex", child.Sex), ("mother_family_name", child.Family), .. Rest()];
        if (site == "hill" || Chance(0.3))
        {
            if (Chance(0.8)) fields.Add(("birth_date", Day(child.Born)));
            if (Chance(0.8)) fields.Add(("sex", child.Sex));
            if (Chance(0.8)) fields.Add(("mother_family_name", child.Family));
            fields.AddRange(Rest());
        }

        return fields;

        IEnumerable<(string, string)> Rest()
        {
            if (Chance(0.7)) yield return ("mother_given_name", child.Given);
            if (Chance(0.4)) yield return ("mother_birth_date", Day(child.MotherBorn));
            if (child.Of > 1) yield return ("birth_order", $"{child.Order}");
        }
    }

    private IEnumerable<(string, string)> Mother(Child child, double stated)
    {
        if (Chance(stated)) yield return ("mother_given_name", child.Given);
        if (Chance(stated)) yield return ("mother_family_name", child.Family);
        if (Chance(stated)) yield return ("mother_birth_date", Day(child.MotherBorn));
    }

    private void Add(Child child, string site, string kind, IEnumerable<(string Name, string Value)> fields) =>
        _rows.Add(new(site, child.Index, fields.Prepend(("kind", kind)).ToDictionary(f => f.Item1, f => f.Item2)));

    private static string Day(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);

    /// <summary>The rows as a file of a format; what the format cannot carry is not asked of it.</summary>
    public static async Task<byte[]> WriteAsync(SubmissionFormat format, IReadOnlyList<InventedRow> rows)
    {
        if (format == SubmissionFormat.Hl7V2) return Encoding.UTF8.GetBytes(string.Concat(rows.Select(Message)));
        if (format == SubmissionFormat.Fhir) return Encoding.UTF8.GetBytes(FhirBed.Json(Bundle(rows)));
        var columns = rows.SelectMany(r => r.Fields.Keys).Distinct().ToList();
        var csv = string.Concat(rows.Select(r => string.Join(',', columns.Select(c => r.Fields.GetValueOrDefault(c, ""))) + "\n")
            .Prepend(string.Join(',', columns) + "\n"));
        return (await SentFiles.OfAsync(format.ToString().ToLowerInvariant(), csv)).Bytes;
    }

    private static string Message(InventedRow row)
    {
        string Of(string field) => row.Fields.GetValueOrDefault(field, "").Replace("-", "", StringComparison.Ordinal);
        var at = Of("performed_at").Replace("T", "", StringComparison.Ordinal).Replace(":", "", StringComparison.Ordinal);
        var right = Of("ear") == "right";
        return Messages.Lines(
            $"MSH|^~\\&|SCREENING|X|REGISTRY|LINDMERE|20261121100000||ORU^R01^ORU_R01|R-1|P|2.6",
            Messages.Segment("PID", (1, "1"), (3, row.Fields["record_number"] + "^^^X^MR"), (7, Of("birth_date")),
                (8, Of("sex") switch { "female" => "F", "male" => "M", _ => "" }), (25, Of("birth_order"))),
            row.Fields.Keys.Any(k => k.StartsWith("mother", StringComparison.Ordinal)) ? Messages.Segment("NK1", (1, "1"),
                (2, $"{Of("mother_family_name")}^{Of("mother_given_name")}"), (3, "MTH^Mother^HL70063"),
                (16, Of("mother_birth_date"))) : "",
            $"OBR|1||1|54111-0^Newborn hearing screening panel^LN|||{at}",
            $"OBX|1|CWE|{(right ? "54109-4" : "54108-6")}^^LN|1|{(Of("outcome") == "pass" ? Messages.Pass : Messages.Refer)}||||||F|||{at}",
            $"OBX|2|CWE|54106-0^Newborn hearing screen method^LN|1|{Messages.Aabr}||||||F");
    }

    private static Bundle Bundle(IReadOnlyList<InventedRow> rows)
    {
        var entries = new List<(string?, Resource)>();
        foreach (var row in rows)
        {
            var url = FhirBed.Urn(entries.Count + 1);
            var number = new Identifier("urn:x-test", row.Fields["record_number"]);
            if (row.Kind == "screening")
            {
                var result = FhirBed.Result("", row.Fields["outcome"] == "pass" ? "LA10392-1" : "LA10393-9",
                    row.Fields["ear"] == "right" ? "54109-4" : "54108-6", row.Fields["performed_at"] + ":00Z");
                result.Subject = new() { Identifier = number };
                entries.Add((url, result));
                continue;
            }

            var patient = FhirBed.Patient(row.Fields["record_number"], row.Fields["birth_date"], row.Fields.GetValueOrDefault("card_id"));
            patient.Gender = row.Fields.GetValueOrDefault("sex") switch
            {
                "female" => AdministrativeGender.Female,
                "male" => AdministrativeGender.Male,
                _ => null,
            };
            if (row.Fields.TryGetValue("birth_order", out var order))
                patient.MultipleBirth = new Integer(int.Parse(order, CultureInfo.InvariantCulture));
            entries.Add((url, patient));
            if (!row.Fields.Keys.Any(k => k.StartsWith("mother", StringComparison.Ordinal))) continue;
            entries.Add((FhirBed.Urn(entries.Count + 1), new RelatedPerson
            {
                Patient = new(url),
                Relationship = [new("http://terminology.hl7.org/CodeSystem/v3-RoleCode", "MTH")],
                Name = [new() { Family = row.Fields.GetValueOrDefault("mother_family_name"),
                    Given = row.Fields.TryGetValue("mother_given_name", out var given) ? [given] : [] }],
                BirthDate = row.Fields.GetValueOrDefault("mother_birth_date"),
            }));
        }

        return FhirBed.Bundle(Hl7.Fhir.Model.Bundle.BundleType.Batch, entries);
    }
}
