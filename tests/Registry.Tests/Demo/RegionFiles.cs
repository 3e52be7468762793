using System.Globalization;
using System.Text.Json;
using CsvHelper;
using Registry.Demo;
using Registry.Records;

namespace Registry.Tests.Demo;

/// <summary>One row of a file of the demonstration region, as a receiver reads it.</summary>
internal sealed record FileRow(DemoSubmission File, int Number, IReadOnlyDictionary<string, string> Values)
{
    public string Kind => this["kind"]!;
    public string? this[string column] => Values.GetValueOrDefault(column);
    public DateOnly Day(string column) => DateOnly.ParseExact(this[column]![..10], "yyyy-MM-dd", CultureInfo.InvariantCulture);
    public DateTime PerformedAt => DateTime.Parse(this["performed_at"]!, CultureInfo.InvariantCulture);
}

/// <summary>One infant put together from the files by record number, card, or birth date and mother.</summary>
internal sealed record FileInfant(string Site, IReadOnlyDictionary<string, string> Birth)
{
    public List<FileRow> Rows { get; } = [];
    public DateOnly BornOn => DateOnly.ParseExact(Birth["birth_date"], "yyyy-MM-dd", CultureInfo.InvariantCulture);
    public DateTime BornAt => BornOn.ToDateTime(TimeOnly.Parse(Birth["birth_time"], CultureInfo.InvariantCulture));
    public string County => Birth["county"];
    public bool IsTwin => Birth["plurality"] != "1";
    public bool LongNicuStay => Rows.Any(r => r["indicator"] == "nicu_over_five_days");
    public bool Left => Rows.Any(r => r.Kind is "death" or "move");

    /// <summary>Tests with a pass or refer, in order of time.</summary>
    public IEnumerable<FileRow> Valid => Rows.Where(r => r["outcome"] is "pass" or "refer").OrderBy(r => r.PerformedAt);
    public bool Screened => Valid.Select(r => r["ear"]).Distinct().Count() == 2;

    /// <summary>Any ear referred in the first session, taken as four hours.</summary>
    public bool FirstReferred => Valid.Any(r => r["outcome"] == "refer" && r.PerformedAt < Valid.First().PerformedAt.AddHours(4));

    /// <summary>Some ear's last valid result is a refer.</summary>
    public bool NotPassed => Valid.GroupBy(r => r["ear"]).Any(ear => ear.Last()["outcome"] == "refer");
    public double FirstHours => (Valid.First().PerformedAt - BornAt).TotalHours;

    /// <summary>The first evaluation with a finding for both ears.</summary>
    public DateOnly? DiagnosedOn => Rows.Where(r => r.Kind == "diagnosis" && r["provisional"] == "no").Select(r => r.Day("evaluated_on")).Order().Cast<DateOnly?>().FirstOrDefault();
    public bool PermanentLoss => Rows.Any(r => r.Kind == "diagnosis"
        && (r["right_finding"] is "sensorineural" or "mixed" or "auditory_neuropathy" || r["left_finding"] is "sensorineural" or "mixed" or "auditory_neuropathy"));
    public bool Enrolled => Rows.Any(r => r["event"] is "enrolled" or "service_plan");
}

/// <summary>Reads the region's files back without any code of the intake.</summary>
internal static class RegionFiles
{
    public static List<FileRow> Read(DemoRegion region) => [.. region.Submissions().SelectMany(Read)];

    public static IEnumerable<FileRow> Read(DemoSubmission file) =>
        file.Format == SubmissionFormat.Json ? ReadJson(file) : ReadCsv(file);

    public static List<FileInfant> Infants(IEnumerable<FileRow> rows)
    {
        var all = rows.ToList();
        var infants = new List<FileInfant>();
        var byRecord = new Dictionary<(string, string), FileInfant>();
        var byCard = new Dictionary<string, FileInfant>();
        var byMother = new Dictionary<string, FileInfant>();
        foreach (var birth in all.Where(r => r.Kind == "birth" && r["birth_order"] is not null))
        {
            if (byRecord.ContainsKey((birth.File.SiteCode, birth["record_number"]!))) continue;
            var infant = new FileInfant(birth.File.SiteCode, birth.Values);
            infants.Add(infant);
            byRecord[(infant.Site, birth["record_number"]!)] = infant;
            if (birth["card_id"] is { } card) byCard[card] = infant;
            byMother[Mother(birth)] = infant;
        }

        foreach (var row in all.Where(r => r.Kind != "birth"))
        {
            var infant = row["record_number"] is { } number ? byRecord.GetValueOrDefault((row.File.SiteCode, number))
                : row["card_id"] is { } card ? byCard.GetValueOrDefault(card)
                : byMother.GetValueOrDefault(Mother(row));
            infant?.Rows.Add(row);
        }

        return infants;

        static string Mother(FileRow r) => string.Join('/', r["birth_date"], r["mother_family_name"], r["mother_given_name"], r["mother_birth_date"], r["birth_order"]);
    }

    private static IEnumerable<FileRow> ReadCsv(DemoSubmission file)
    {
        using var csv = CsvReader.Create(file.Content, new CsvReaderOptions());
        csv.ReadHeader();
        var columns = csv.Headers.ToArray();
        for (var number = 1; csv.Read(); number++)
        {
            var values = new Dictionary<string, string>();
            for (var i = 0; i < csv.FieldCount; i++)
                if (csv.GetString(i) is { Length: > 0 } value) values[columns[i]] = value;
            yield return new FileRow(file, number, values);
        }
    }

    private static IEnumerable<FileRow> ReadJson(DemoSubmission file)
    {
        using var json = JsonDocument.Parse(file.Content);
        var number = 0;
        foreach (var row in json.RootElement.GetProperty("rows").EnumerateArray())
            yield return new FileRow(file, ++number, row.EnumerateObject().ToDictionary(p => p.Name, p => p.Value.GetString()!));
    }
}
