using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

public sealed record ReportedMove(MoveKind Kind, DateOnly MovedOn) : ReportedFact<ReportedMove>
{
    public override DateOnly On => MovedOn;
    public override string? Code => Codes.Of(Kind);

    protected override bool IsAboutTheSameAs(ReportedMove recorded) => Kind == recorded.Kind;
    protected override bool TakesBack(ReportedMove recorded) => this == recorded;

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedMove>(RowKind.Move, "moves", day: "moved_on");
        var kind = table.Code("kind", f => f.Kind);
        var moved = table.Date("moved_on", f => f.MovedOn);
        table.ReadAs(r => new(kind[r], moved[r]));
        table.ForRules(r => new Move(kind[r], moved[r]), (f, all) => f with { Moves = all });
        return table;
    }
}
