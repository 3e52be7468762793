using Registry.Intake.Rows;
using Registry.Rules.Audiology;
using Registry.Rules.Facts;

namespace Registry.Intake.Typing;

/// <summary>An evaluation as it is typed: cells of a grid, a column of a row for each list of thresholds.</summary>
public static class TypedEvaluation
{
    /// <summary>Brainstem thresholds the form asks for; a file may state any, and what is recorded is asked for too.</summary>
    private static readonly IReadOnlyList<int> AskedOfAbr = [Threshold.Click, 500, 1000, 2000, 4000];

    public static IReadOnlyList<int> AbrFrequencies(TypedForm form) =>
        [.. AskedOfAbr.Union(Threshold.AirFrequencies.Where(hz => Abr.Any(f => form.Columns.ContainsKey(Cell(f, hz))))).Order()];

    public static IReadOnlyList<Field> Behavioral { get; } =
        [Field.RightAir, Field.RightBone, Field.LeftAir, Field.LeftBone, Field.SoundField];

    public static IReadOnlyList<Field> Abr { get; } = [Field.RightAbr, Field.RightAbrBone, Field.LeftAbr, Field.LeftAbrBone];

    public static (ThresholdKind Kind, Ear? Ear) Of(Field field)
    {
        var (_, kind, ear) = ReadFields.ThresholdFields.First(t => t.Field == field);
        return (kind, ear);
    }

    /// <summary>Whether the grid has a cell there.</summary>
    public static bool Has(Field field, int hz) => hz == Threshold.Click || Threshold.Frequencies(Of(field).Kind).Contains(hz);

    /// <summary>The name of a cell.</summary>
    public static string Cell(Field field, int hz) => $"{Codes.Of(field)}_{Name(hz)}";

    /// <summary>The columns of the row: those typed as they are, and the cells of each list together.</summary>
    public static IEnumerable<KeyValuePair<Field, string>> Columns(TypedForm form)
    {
        foreach (var field in CheckRow.FieldsOf(Records.RowKind.Diagnosis))
        {
            var value = Behavioral.Contains(field) || Abr.Contains(field) ? Cells(form, field) : form.Of(field);
            if (!string.IsNullOrWhiteSpace(value)) yield return new(field, value);
        }
    }

    /// <summary>Puts what is recorded into the cells and fields.</summary>
    public static void Fill(TypedForm form, IReadOnlyDictionary<Field, string> recorded)
    {
        foreach (var (field, value) in recorded)
        {
            form.Columns[Codes.Of(field)] = value;
            if (!Behavioral.Contains(field) && !Abr.Contains(field)) continue;
            var (kind, ear) = Of(field);
            foreach (var threshold in Threshold.Read(kind, ear, value).Thresholds)
                form.Columns[Cell(field, threshold.FrequencyHz)] = threshold.Level;
        }
    }

    /// <summary>What the thresholds typed so far suggest, as far as they can be read.</summary>
    public static IReadOnlyList<(Ear Ear, SuggestedFinding? Found)> Suggest(TypedForm form)
    {
        var columns = Columns(form).ToDictionary();
        var detail = new EvaluationDetail
        {
            AbrScale = columns.TryGetValue(Field.AbrScale, out var code) && Codes.TryParse<AbrScale>(code, out var scale) ? scale : null,
            Thresholds = [.. ReadFields.ThresholdFields.SelectMany(t =>
                columns.TryGetValue(t.Field, out var text) ? Threshold.Read(t.Kind, t.Ear, text).Thresholds : [])],
        };
        return [.. Enum.GetValues<Ear>().Select(ear => (ear, SuggestFinding.Of(detail, ear)))];
    }

    private static string Cells(TypedForm form, Field field)
    {
        var frequencies = Abr.Contains(field) ? AbrFrequencies(form) : Threshold.AirFrequencies;
        return string.Join(';', frequencies.Where(hz => Has(field, hz))
            .Select(hz => (Hz: hz, Level: form.Columns.GetValueOrDefault(Cell(field, hz))))
            .Where(c => !string.IsNullOrWhiteSpace(c.Level)).Select(c => $"{Name(c.Hz)}:{c.Level!.Trim()}"));
    }

    private static string Name(int hz) => hz == Threshold.Click ? "click" : hz.ToString(System.Globalization.CultureInfo.InvariantCulture);
}
