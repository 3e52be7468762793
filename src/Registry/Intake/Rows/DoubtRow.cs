using Registry.Facts;
using Registry.Records;
using Registry.Rules.Audiology;
using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>What of a row that passed its checks deserves a second look; it is applied all the same.</summary>
public static class DoubtRow
{
    public static IReadOnlyList<Problem> Of(ReportedRow row) =>
        row is { Action: not RowAction.Retract, Fact: ReportedDiagnosis { Detail: { } detail } found }
            ? [.. DoubtEvaluation.Of((found.Right, found.RightDegree), (found.Left, found.LeftDegree), detail)
                .Select(d => new Problem(ColumnOf(d), $"look again: {d.Says()}"))]
            : [];

    private static Field ColumnOf(DoubtedEvaluation doubted)
    {
        var right = doubted.Ear == Ear.Right;
        return doubted.Doubt switch
        {
            EvaluationDoubt.DegreeDiffers or EvaluationDoubt.DegreeMissing => right ? Field.RightDegree : Field.LeftDegree,
            EvaluationDoubt.TypeDiffers or EvaluationDoubt.NeuropathyPattern => right ? Field.RightFinding : Field.LeftFinding,
            EvaluationDoubt.MethodMissing => Field.BehavioralMethod,
            EvaluationDoubt.TransducerMissing => Field.AirTransducer,
            _ => right ? Field.RightBone : Field.LeftBone,
        };
    }
}
