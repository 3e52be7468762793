using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

public sealed record ReportedMedicalDelay(PathStep Step, DateOnly FromOn) : ReportedFact<ReportedMedicalDelay>
{
    public DateOnly? EndedOn { get; init; }

    public override DateOnly On => FromOn;
    public override DateOnly? Until => EndedOn;
    public override string? Code => Codes.Of(Step);

    protected override FactVerdict ComparedWith(ReportedMedicalDelay recorded, bool sameSite, out ReportedMedicalDelay result)
    {
        result = this;
        if (!IsAboutTheSameAs(recorded)) return FactVerdict.New;
        result = recorded with { EndedOn = recorded.EndedOn ?? EndedOn };
        if (!SaysNoOther(EndedOn, result.EndedOn)) return FactVerdict.Contradicts;
        return result == recorded ? FactVerdict.Same : FactVerdict.Replaces;
    }

    protected override bool IsAboutTheSameAs(ReportedMedicalDelay recorded) => Step == recorded.Step && FromOn == recorded.FromOn;

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedMedicalDelay>(RowKind.MedicalDelay, "medical_delays", day: "from_on");
        var step = table.Code("step", f => f.Step);
        var from = table.Date("from_on", f => f.FromOn);
        var ended = table.Date("ended_on", f => f.EndedOn);
        table.ReadAs(r => new(step[r], from[r]) { EndedOn = ended[r] });
        table.ForRules(r => new MedicalDelay(step[r], from[r]) { EndedOn = ended[r] }, (f, all) => f with { MedicalDelays = all });
        return table;
    }
}
