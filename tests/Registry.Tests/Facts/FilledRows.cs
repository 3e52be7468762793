using System.Collections;
using System.Reflection;
using Registry.Facts;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Tests.Facts;

/// <summary>For every kind of fact a row that leaves no column blank, of one invented infant at harbour.</summary>
internal static class FilledRows
{
    private static readonly Field[] Who =
        [Field.Kind, Field.RecordNumber, Field.BirthDate, Field.Sex, Field.BirthOrder, Field.MotherGivenName, Field.MotherFamilyName,
            Field.MotherBirthDate];

    /// <summary>What no other column of its kind would tell how to fill, and what must agree with another column.</summary>
    private static readonly Dictionary<Field, string> Values = new()
    {
        [Field.RecordNumber] = "H-1",
        [Field.BirthDate] = "2026-09-01",
        [Field.MotherBirthDate] = "1995-02-03",
        [Field.BirthTime] = "07:30",
        [Field.Plurality] = "3",
        [Field.BirthOrder] = "2",
        [Field.GestationWeeks] = "34",
        [Field.BirthWeightG] = "2100",
        [Field.ContactEmail] = "family@example.test",
        [Field.ContactPhone] = "555 010 0101",
        [Field.OtherPhone] = "555 010 0102",
        [Field.PrimaryCarePhone] = "555 010 0103",
        [Field.Relation] = "guardian",
        [Field.PerformedAt] = "2026-09-02T09:15",
        [Field.Outcome] = "no_valid_result",
        [Field.Reason] = "noise",
        [Field.DurationSeconds] = "12.5",
        [Field.ArtefactsRejected] = "4",
        [Field.EarCanalVolumeMl] = "0.8",
        [Field.AmbientNoiseDb] = "35.5",
        [Field.Bands] = "2000:12:3:9",
        [Field.ToSite] = "hill",
        [Field.AppointmentTime] = "10:30",
        [Field.AppointmentSite] = "hill",
        [Field.NicuDischargedOn] = "2026-09-08",
        [Field.DischargedOn] = "2026-09-08",
        [Field.RevokedOn] = "2026-09-08",
        [Field.EndedOn] = "2026-09-08",
        [Field.NextEvaluationOn] = "2026-12-08",
        [Field.RightAir] = "500:40;1000:45m;2000:>110",
        [Field.LeftAir] = "500:10",
        [Field.RightBone] = "500:15m",
        [Field.LeftBone] = "500:10",
        [Field.SoundField] = "1000:25",
        [Field.RightAbr] = "click:35;2000:40",
        [Field.LeftAbr] = "500:30",
        [Field.RightAbrBone] = "2000:20",
        [Field.LeftAbrBone] = "2000:15",
    };

    /// <summary>Where the infant was born is said by a vital-records office only.</summary>
    public static IEnumerable<Field> FieldsOf(RowKind kind) =>
        Who.Concat(CheckRow.FieldsOf(kind)).Where(f => f != Field.BirthSite).Distinct();

    public static string ValueOf(Field field, RowKind kind) => field == Field.Kind ? Codes.Of(kind)
        : Values.TryGetValue(field, out var value) ? value
        : FieldValues.CodesOf(field).Contains("true") ? "true"
        : FieldValues.CodesOf(field).LastOrDefault() is { } code ? code
        : field.ToString().EndsWith("On", StringComparison.Ordinal) ? "2026-09-03"
        : $"some {Codes.Of(field)}";

    /// <summary>The rows of every kind as one file, births first.</summary>
    public static string Csv()
    {
        var columns = FactKinds.All.SelectMany(k => FieldsOf(k.Kind)).Distinct().ToList();
        var lines = FactKinds.All.Select(k => string.Join(',', columns.Select(c =>
            FieldsOf(k.Kind).Contains(c) ? ValueOf(c, k.Kind) : "")));
        return string.Join('\n', lines.Prepend(string.Join(',', columns.Select(c => Codes.Of(c))))) + "\n";
    }

    /// <summary>The fact such a row states.</summary>
    public static ReportedFact Fact(RowKind kind, Guid hill)
    {
        var batch = new RowBatch(1);
        batch.Add(1, 2);
        foreach (var field in FieldsOf(kind)) batch.Set(field, ValueOf(field, kind));
        var row = new CheckRow(new(2026, 11, 25), new Dictionary<string, Guid> { ["hill"] = hill })
            .Check(batch, 0, out _, out var problems);
        Assert.True(row is not null, $"{kind}: {string.Join("; ", problems.Select(p => $"{p.Field} {p.Reason}"))}");
        return row.Fact;
    }

    /// <summary>Properties that were set and still hold what nobody set.</summary>
    public static IEnumerable<string> Blank(object of) => of.GetType().GetProperties(BindingFlags.Public | BindingFlags.Instance)
        .Where(p => p.SetMethod is not null && p.GetValue(of) is var value && (value is null
            || (value.GetType().IsValueType && value.Equals(Activator.CreateInstance(value.GetType())))
            || value is ICollection { Count: 0 }))
        .Select(p => $"{of.GetType().Name}.{p.Name}");
}
