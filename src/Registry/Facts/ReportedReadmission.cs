using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

public sealed record ReportedReadmission(DateOnly AdmittedOn, bool RaisesRisk) : ReportedFact<ReportedReadmission>
{
    public DateOnly? DischargedOn { get; init; }

    public override DateOnly On => AdmittedOn;
    public override DateOnly? Until => DischargedOn;
    public override string? Code => RaisesRisk ? "raises_risk" : "no_risk";

    protected override FactVerdict ComparedWith(ReportedReadmission recorded, bool sameSite, out ReportedReadmission result)
    {
        result = this;
        if (!IsAboutTheSameAs(recorded)) return FactVerdict.New;
        result = recorded with { DischargedOn = recorded.DischargedOn ?? DischargedOn };
        if (RaisesRisk != recorded.RaisesRisk || !SaysNoOther(DischargedOn, result.DischargedOn)) return FactVerdict.Contradicts;
        return result == recorded ? FactVerdict.Same : FactVerdict.Replaces;
    }

    protected override bool IsAboutTheSameAs(ReportedReadmission recorded) => AdmittedOn == recorded.AdmittedOn;

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedReadmission>(RowKind.Readmission, "readmissions", day: "admitted_on");
        var admitted = table.Date("admitted_on", f => f.AdmittedOn);
        var discharged = table.Date("discharged_on", f => f.DischargedOn);
        var raisesRisk = table.Bool("raises_risk", f => f.RaisesRisk);
        table.ReadAs(r => new(admitted[r], raisesRisk[r]) { DischargedOn = discharged[r] });
        table.ForRules(
            r => new Readmission(admitted[r], raisesRisk[r]) { DischargedOn = discharged[r] }, (f, all) => f with { Readmissions = all });
        return table;
    }
}
