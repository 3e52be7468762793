using Registry.Facts;
using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>What a screening row and a diagnosis row say.</summary>
internal readonly ref partial struct ReadFields
{
    public static Field[] OfScreening =>
    [
        Field.Ear, Field.Outcome, Field.Method, Field.Reason, Field.PerformedAt, Field.Stage,
        Field.Instrument, Field.Probe, Field.Screener, Field.Stimulus, Field.DurationSeconds, Field.ArtefactsRejected,
        Field.EarCanalVolumeMl, Field.AmbientNoiseDb, Field.Bands,
    ];

    public static Field[] OfDiagnosis =>
    [
        Field.EvaluatedOn, Field.RightFinding, Field.LeftFinding, Field.RightDegree, Field.LeftDegree,
        Field.Provisional, Field.Permanent, Field.NextEvaluationOn, Field.Evaluator, Field.EvaluationPlace, .. OfEvaluationDetail,
    ];

    public ReportedScreening? Screening()
    {
        var ear = RequiredCode<Ear>(Field.Ear);
        var outcome = RequiredCode<ScreeningOutcome>(Field.Outcome);
        var performed = RequiredPastDateTime(Field.PerformedAt);
        var method = outcome == ScreeningOutcome.NotPerformed
            ? Code<ScreeningMethod>(Field.Method)
            : RequiredCode<ScreeningMethod>(Field.Method);
        var reason = Code<ScreeningReason>(Field.Reason);
        if (outcome is { } o) CheckReason(o, reason);
        var stage = Code(Field.Stage, ScreeningStage.Unstated);
        var instrument = String(Field.Instrument, 64);
        var probe = String(Field.Probe, 64);
        var screener = String(Field.Screener, 64);
        var detail = Detail(outcome);
        return ear is not { } e || outcome is not { } result || performed is not { } at
            ? null
            : new ReportedScreening(e, result, at)
            {
                Method = method ?? ScreeningMethod.Unknown,
                Reason = reason ?? ScreeningReason.None,
                Stage = stage,
                Instrument = instrument,
                Probe = probe,
                Screener = screener,
                Detail = detail,
            };
    }

    private void CheckReason(ScreeningOutcome outcome, ScreeningReason? reason)
    {
        var given = reason is not (null or ScreeningReason.None);
        if (outcome is ScreeningOutcome.Pass or ScreeningOutcome.Refer)
        {
            if (given) problems.Add(new(Field.Reason, "does not belong to a pass or refer"));
            return;
        }

        if (!given)
        {
            if (!IsStated(Field.Reason) || reason is ScreeningReason.None)
                problems.Add(new(Field.Reason, $"is required for {Codes.Of(outcome)}"));
            return;
        }

        var ofInvalid = reason is ScreeningReason.Noise or ScreeningReason.NoSeal or ScreeningReason.InfantUnsettled
            or ScreeningReason.EquipmentFault;
        if (reason != ScreeningReason.Other && ofInvalid != (outcome == ScreeningOutcome.NoValidResult))
            problems.Add(new(Field.Reason, $"is not a reason for {Codes.Of(outcome)}"));
    }

    public ReportedScreening? RetractedScreening()
    {
        var ear = RequiredCode<Ear>(Field.Ear);
        var performed = RequiredPastDateTime(Field.PerformedAt);
        return ear is { } e && performed is { } at ? new ReportedScreening(e, default, at) : null;
    }

    public ReportedDiagnosis? Diagnosis()
    {
        var on = RequiredPast(Field.EvaluatedOn);
        var right = RequiredCode<EarFinding>(Field.RightFinding);
        var left = RequiredCode<EarFinding>(Field.LeftFinding);
        var rightDegree = Code(Field.RightDegree, LossDegree.NotStated);
        var leftDegree = Code(Field.LeftDegree, LossDegree.NotStated);
        if (right is { } r) CheckDegree(Field.RightDegree, r, rightDegree);
        if (left is { } l) CheckDegree(Field.LeftDegree, l, leftDegree);
        if (right == EarFinding.NotEvaluated && left == EarFinding.NotEvaluated)
            problems.Add(new(Field.RightFinding, "neither ear was evaluated"));
        var provisional = Bool(Field.Provisional) ?? false;
        var permanent = Bool(Field.Permanent);
        var next = Date(Field.NextEvaluationOn);
        var (evaluator, place) = (String(Field.Evaluator, 64), String(Field.EvaluationPlace, 100));
        var detail = EvaluationDetail(right, left);
        if (next <= on) problems.Add(new(Field.NextEvaluationOn, "is not after evaluated_on"));
        return on is not { } day || right is not { } rf || left is not { } lf
            ? null
            : new ReportedDiagnosis(day, rf, lf)
            {
                RightDegree = rightDegree,
                LeftDegree = leftDegree,
                Provisional = provisional,
                Permanent = permanent,
                NextOn = next,
                Evaluator = evaluator,
                Place = place,
                Detail = detail,
            };
    }

    private void CheckDegree(Field field, EarFinding finding, LossDegree degree)
    {
        if (degree != LossDegree.NotStated && finding is (EarFinding.Normal or EarFinding.NotEvaluated))
            problems.Add(new(field, "a degree belongs to a loss only"));
    }
}

/// <summary>A test and an evaluation, the other way.</summary>
public static partial class FactAsRow
{
    internal static void Say(StatedColumns row, ReportedScreening test)
    {
        row.Code<Ear>(Field.Ear, test.Ear);
        row.Code<ScreeningOutcome>(Field.Outcome, test.Outcome);
        row.Code<ScreeningMethod>(Field.Method, test.Method);
        row.Code(Field.Reason, test.Reason, ScreeningReason.None);
        row.Moment(Field.PerformedAt, test.PerformedAt);
        row.Code(Field.Stage, test.Stage, ScreeningStage.Unstated);
        row.Text(Field.Instrument, test.Instrument);
        row.Text(Field.Probe, test.Probe);
        row.Text(Field.Screener, test.Screener);
        if (test.Detail is not { } detail) return;
        row.Text(Field.Stimulus, detail.Stimulus);
        row.Number(Field.DurationSeconds, detail.DurationSeconds);
        row.Number(Field.ArtefactsRejected, detail.ArtefactsRejected);
        row.Number(Field.EarCanalVolumeMl, detail.EarCanalVolumeMl);
        row.Number(Field.AmbientNoiseDb, detail.AmbientNoiseDb);
        row.Text(Field.Bands, TestDetail.WriteBands(detail.Bands));
    }

    internal static void Say(StatedColumns row, ReportedDiagnosis found)
    {
        row.Day(Field.EvaluatedOn, found.EvaluatedOn);
        row.Code<EarFinding>(Field.RightFinding, found.Right);
        row.Code<EarFinding>(Field.LeftFinding, found.Left);
        row.Code(Field.RightDegree, found.RightDegree, LossDegree.NotStated);
        row.Code(Field.LeftDegree, found.LeftDegree, LossDegree.NotStated);
        row.Bool(Field.Provisional, found.Provisional);
        row.Bool(Field.Permanent, found.Permanent);
        row.Day(Field.NextEvaluationOn, found.NextOn);
        row.Text(Field.Evaluator, found.Evaluator);
        row.Text(Field.EvaluationPlace, found.Place);
        if (found.Detail is not { } detail) return;
        row.Code(Field.BehavioralMethod, detail.BehavioralMethod);
        row.Code(Field.AirTransducer, detail.AirTransducer);
        row.Code(Field.RightTympanogramLow, detail.RightTympanogramLow);
        row.Code(Field.RightTympanogramHigh, detail.RightTympanogramHigh);
        row.Code(Field.LeftTympanogramLow, detail.LeftTympanogramLow);
        row.Code(Field.LeftTympanogramHigh, detail.LeftTympanogramHigh);
        row.Code(Field.RightEmissions, detail.RightEmissions);
        row.Code(Field.LeftEmissions, detail.LeftEmissions);
        row.Code(Field.EmissionsMethod, detail.EmissionsMethod);
        row.Code(Field.AbrScale, detail.AbrScale);
        row.Text(Field.AbrCorrection, detail.AbrCorrection);
        foreach (var (field, kind, ear) in ReadFields.ThresholdFields)
            row.Text(field, Threshold.Write(detail.Thresholds.Where(t => t.Kind == kind && t.Ear == ear)));
    }
}
