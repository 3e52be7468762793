using System.Globalization;
using System.Text.Json;
using Registry.Demo;
using Registry.Records;

namespace Registry.Tests.Demo;

/// <summary>One row of a generated file, read back by a general-purpose reader.</summary>
internal sealed record DemoRow(DemoSubmission File, IReadOnlyDictionary<string, string> Values)
{
    public string Site => File.SiteCode;
    public string? this[string column] => Values.GetValueOrDefault(column);
    public string Kind => Values["kind"];
    public DateOnly SentOn => DateOnly.FromDateTime(File.ReceivedAt.UtcDateTime);
    public DateTime At(string column) => DateTime.Parse(Values[column], CultureInfo.InvariantCulture);
    public DateOnly Day(string column) => DateOnly.ParseExact(Values[column], "yyyy-MM-dd", CultureInfo.InvariantCulture);
}

/// <summary>One infant of the region: its births, tests and later reports, put together by the identifiers the rows state.</summary>
internal sealed record DemoInfant(DemoRow Birth, List<DemoRow> Tests, List<DemoRow> Later)
{
    public DateTime BornAt => Birth.At("birth_date") + TimeSpan.Parse(Birth["birth_time"]!, CultureInfo.InvariantCulture);
    public IEnumerable<DemoRow> Valid => Tests.Where(t => t["outcome"] is "pass" or "refer")
        .OrderBy(t => t["performed_at"], StringComparer.Ordinal);
    public bool NotPassed => Valid.GroupBy(t => t["ear"]).Any(g => g.Last()["outcome"] == "refer");
    public bool FirstReferred => Valid.GroupBy(t => t["ear"]).Any(g => g.First()["outcome"] == "refer");
    public double? AgeAtScreen => Valid.FirstOrDefault() is { } first ? (first.At("performed_at") - BornAt).TotalHours : null;
    public DemoRow? Diagnosis => Later.Where(l => l.Kind == "diagnosis" && l["provisional"] == "no")
        .OrderBy(l => l["evaluated_on"], StringComparer.Ordinal).FirstOrDefault();
    public bool Has(string kind, string column, string value) => Later.Any(l => l.Kind == kind && l[column] == value);
}

internal static class ReadRegion
{
    public static readonly DateOnly Anchor = new(2026, 11, 25);
    private static readonly Lazy<(List<DemoRow> Rows, List<DemoInfant> Infants)> Full = new(() =>
    {
        var rows = Rows(new DemoRegion(Anchor));
        return (rows, Infants(rows));
    });

    /// <summary>The default region, read once.</summary>
    public static List<DemoRow> AllRows => Full.Value.Rows;

    /// <summary>Its infants old enough that what was going to be reported about screening and diagnosis has been.</summary>
    public static IEnumerable<DemoInfant> OldEnough => Full.Value.Infants.Where(
        i => i.BornAt < Anchor.AddDays(-130).ToDateTime(TimeOnly.MinValue));

    public static List<DemoRow> Rows(DemoRegion region) => [.. region.Submissions().SelectMany(Rows)];

    public static List<DemoRow> Rows(DemoSubmission file)
    {
        if (file.Format == SubmissionFormat.Json)
        {
            using var json = JsonDocument.Parse(file.Content);
            return [.. json.RootElement.GetProperty("rows").EnumerateArray()
                .Select(r => new DemoRow(file, r.EnumerateObject().ToDictionary(p => p.Name, p => p.Value.GetString()!)))];
        }

        using var csv = CsvHelper.CsvReader.Create(file.Content, null);
        var columns = csv.Headers;
        var rows = new List<DemoRow>();
        while (csv.Read())
        {
            var values = new Dictionary<string, string>();
            for (var i = 0; i < columns.Count; i++)
                if (csv.GetString(i) is { Length: > 0 } value) values[columns[i]] = value;
            rows.Add(new(file, values));
        }

        return rows;
    }

    public static List<DemoInfant> Infants(List<DemoRow> rows)
    {
        var byRecord = new Dictionary<string, DemoInfant>();
        var byCard = new Dictionary<string, DemoInfant>();
        var byMother = new Dictionary<string, DemoInfant>();
        foreach (var birth in rows.Where(r => r.Kind == "birth" && r["card_id"] is not null))
        {
            if (byRecord.TryGetValue(Record(birth), out var known) && known.Birth["birth_order"] != birth["birth_order"]) continue;
            var infant = new DemoInfant(birth, known?.Tests ?? [], known?.Later ?? []);
            byRecord[Record(birth)] = byCard[birth["card_id"]!] = byMother[Mother(birth)] = infant;
        }

        foreach (var row in rows.Where(r => r.Kind != "birth"))
        {
            var infant = row["record_number"] is not null ? byRecord.GetValueOrDefault(Record(row))
                : row["card_id"] is { } card ? byCard.GetValueOrDefault(card)
                : byMother.GetValueOrDefault(Mother(row));
            (row.Kind == "screening" ? infant?.Tests : infant?.Later)?.Add(row);
        }

        return [.. byRecord.Values];

        static string Record(DemoRow r) => $"{r.Site}/{r["record_number"]}";
        static string Mother(DemoRow r) => $"{r["birth_date"]}/{r["mother_family_name"]}/{r["mother_birth_date"]}/{r["birth_order"]}";
    }
}
