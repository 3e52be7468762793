using Registry.Records;

namespace Registry.Facts;

public sealed record ReportedDeath(DateOnly DiedOn) : ReportedFact<ReportedDeath>
{
    public override DateOnly On => DiedOn;

    protected override FactVerdict ComparedWith(ReportedDeath recorded, bool sameSite, out ReportedDeath result)
    {
        result = this;
        return this == recorded ? FactVerdict.Same : FactVerdict.Contradicts;
    }

    protected override bool IsAboutTheSameAs(ReportedDeath recorded) => true;
    protected override bool TakesBack(ReportedDeath recorded) => this == recorded;

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedDeath>(RowKind.Death, "deaths", day: "died_on");
        var died = table.Date("died_on", f => f.DiedOn);
        table.ReadAs(r => new(died[r]));
        table.ForRules(r => died[r], (f, all) => f with { DiedOn = all.Min() });
        return table;
    }
}
