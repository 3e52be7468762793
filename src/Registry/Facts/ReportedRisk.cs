using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

/// <summary><see cref="NotedOn"/> null: present at birth.</summary>
public sealed record ReportedRisk(RiskIndicatorKind Kind, DateOnly? NotedOn) : ReportedFact<ReportedRisk>
{
    public override DateOnly On => NotedOn ?? DateOnly.MaxValue;

    protected override bool IsAboutTheSameAs(ReportedRisk recorded) => Kind == recorded.Kind;
    protected override bool TakesBack(ReportedRisk recorded) => NotedOn is null || NotedOn == recorded.NotedOn;

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedRisk>(RowKind.Risk, "risks", day: "noted_on");
        var kind = table.Code("kind", f => f.Kind);
        var noted = table.Date("noted_on", f => f.NotedOn);
        table.ReadAs(r => new(kind[r], noted[r]));
        table.ForRules(r => new RiskIndicator(kind[r], noted[r]!.Value), (f, all) => f with { RiskIndicators = all });
        return table;
    }
}
