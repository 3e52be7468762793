using Registry.Intake.Rows;
using Registry.Intake.Typing;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.HandOffs;

/// <summary>The rows an answer by a link states: an evaluation of both ears, or a test of each ear that was looked at.</summary>
public static class LinkRows
{
    /// <summary>What is asked of an evaluation, and may be left out but for the first three.</summary>
    public static readonly Field[] OfEvaluation =
        [Field.EvaluatedOn, Field.RightFinding, Field.LeftFinding, Field.RightDegree, Field.LeftDegree, Field.Provisional];

    public static IReadOnlyList<TypedRow> Of(PathStep step, LinkForm form, IReadOnlyDictionary<Field, string> who)
    {
        if (step == PathStep.Diagnosis)
        {
            var row = new Dictionary<Field, string>(who);
            foreach (var field in OfEvaluation)
                if (form.Of(Codes.Of(field)) is { } value) row[field] = value;
            return row.Count == who.Count ? [] : [new(RowKind.Diagnosis, row)];
        }

        return [.. Enum.GetValues<Ear>().Where(ear => form.Of($"outcome_{Codes.Of(ear)}") is not null).Select(ear => new TypedRow(
            RowKind.Screening, new Dictionary<Field, string>(who)
            {
                [Field.Ear] = Codes.Of(ear),
                [Field.Outcome] = form.Of($"outcome_{Codes.Of(ear)}")!,
                [Field.Method] = form.Of("method") ?? "",
                [Field.PerformedAt] = $"{form.Of("day")}T{form.Of("time")}",
            }))];
    }
}
