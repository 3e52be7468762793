using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

public sealed record ReportedDiagnosis(DateOnly EvaluatedOn, EarFinding Right, EarFinding Left) : ReportedFact<ReportedDiagnosis>
{
    public LossDegree RightDegree { get; init; }
    public LossDegree LeftDegree { get; init; }
    public bool Provisional { get; init; }
    public bool? Permanent { get; init; }

    /// <summary>The day the audiologist wants to see the child again.</summary>
    public DateOnly? NextOn { get; init; }

    public override DateOnly On => EvaluatedOn;

    protected override FactVerdict ComparedWith(ReportedDiagnosis recorded, bool sameSite, out ReportedDiagnosis result)
    {
        result = this;
        if (!sameSite || !IsAboutTheSameAs(recorded)) return FactVerdict.New;
        return this == recorded ? FactVerdict.Same : FactVerdict.Contradicts;
    }

    protected override bool IsAboutTheSameAs(ReportedDiagnosis recorded) => EvaluatedOn == recorded.EvaluatedOn;

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedDiagnosis>(RowKind.Diagnosis, "diagnoses", day: "evaluated_on");
        var evaluated = table.Date("evaluated_on", f => f.EvaluatedOn);
        var right = table.Code("right_finding", f => f.Right);
        var left = table.Code("left_finding", f => f.Left);
        var rightDegree = table.Code("right_degree", f => f.RightDegree);
        var leftDegree = table.Code("left_degree", f => f.LeftDegree);
        var provisional = table.Bool("provisional", f => f.Provisional);
        var permanent = table.Bool("permanent", f => f.Permanent);
        var next = table.Date("next_on", f => f.NextOn);
        table.ReadAs(r => new(evaluated[r], right[r], left[r])
        {
            RightDegree = rightDegree[r],
            LeftDegree = leftDegree[r],
            Provisional = provisional[r],
            Permanent = permanent[r],
            NextOn = next[r],
        });
        table.ForRules(
            r => new DiagnosticEvaluation(evaluated[r], right[r], left[r])
            {
                RightDegree = rightDegree[r],
                LeftDegree = leftDegree[r],
                Provisional = provisional[r],
                Permanent = permanent[r],
                NextOn = next[r],
            },
            (f, all) => f with { Evaluations = all });
        return table;
    }
}
