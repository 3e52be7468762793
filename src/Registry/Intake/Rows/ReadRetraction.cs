using Registry.Facts;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.Rows;

/// <summary>What a retraction must say: no more than which statement it takes back. Its other columns are not read.</summary>
internal readonly ref partial struct ReadFields
{
    /// <summary>The fact a retraction names, or null when a part of its name is missing or unreadable (then there is a problem).</summary>
    public ReportedFact? RetractedFact(RowKind kind, in Identity identity) => kind switch
    {
        RowKind.Birth => new ReportedBirth(identity.BornOn ?? DateOnly.MinValue, identity.Sex),
        RowKind.Screening => RetractedScreening(),
        RowKind.Diagnosis => RequiredPast(Field.EvaluatedOn) is { } on ? new ReportedDiagnosis(on, default, default) : null,
        RowKind.Intervention => Intervention(),
        RowKind.Death => RequiredPast(Field.DiedOn) is { } on ? new ReportedDeath(on) : null,
        RowKind.Move => Move(),
        RowKind.Transfer => RequiredPast(Field.TransferredOn) is { } on ? new ReportedTransfer(default, on) : null,
        RowKind.Refusal => StepOn(Field.RefusedOn) is var (step, on) ? new ReportedRefusal(step, on) : null,
        RowKind.Risk => Risk(),
        RowKind.Contact => Contact(),
        RowKind.Merge => RetractedMerge(),
        RowKind.Readmission => RequiredPast(Field.AdmittedOn) is { } on ? new ReportedReadmission(on, default) : null,
        _ => StepOn(Field.FromOn) is var (step, on) ? new ReportedMedicalDelay(step, on) : null,
    };

    private ReportedMerge? RetractedMerge()
    {
        problems.Add(new(Field.Action, "record numbers put together are not taken apart by a row: ask the coordinator"));
        return null;
    }

    private ReportedScreening? RetractedScreening()
    {
        var ear = RequiredCode<Ear>(Field.Ear);
        var performed = RequiredPastDateTime(Field.PerformedAt);
        return ear is { } e && performed is { } at ? new ReportedScreening(e, default, at) : null;
    }

    private (PathStep Step, DateOnly On)? StepOn(Field day)
    {
        var step = RequiredCode<PathStep>(Field.Step);
        var on = RequiredPast(day);
        return step is { } s && on is { } d ? (s, d) : null;
    }
}
