using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

public sealed record ReportedIntervention(InterventionKind Kind, DateOnly HappenedOn) : ReportedFact<ReportedIntervention>
{
    public override DateOnly On => HappenedOn;
    public override string? Code => Codes.Of(Kind);

    protected override bool IsAboutTheSameAs(ReportedIntervention recorded) => Kind == recorded.Kind;
    protected override bool TakesBack(ReportedIntervention recorded) => this == recorded;

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedIntervention>(RowKind.Intervention, "interventions", day: "happened_on");
        var kind = table.Code("kind", f => f.Kind);
        var happened = table.Date("happened_on", f => f.HappenedOn);
        table.ReadAs(r => new(kind[r], happened[r]));
        table.ForRules(r => new InterventionEvent(kind[r], happened[r]), (f, all) => f with { Interventions = all });
        return table;
    }
}
