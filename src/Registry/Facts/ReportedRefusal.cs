using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

public sealed record ReportedRefusal(PathStep Step, DateOnly RefusedOn) : ReportedFact<ReportedRefusal>
{
    public DateOnly? RevokedOn { get; init; }
    public string? RefusedBy { get; init; }

    public override DateOnly On => RefusedOn;
    public override DateOnly? Until => RevokedOn;
    public override string? Code => Codes.Of(Step);

    protected override FactVerdict ComparedWith(ReportedRefusal recorded, bool sameSite, out ReportedRefusal result)
    {
        result = this;
        if (!IsAboutTheSameAs(recorded)) return FactVerdict.New;
        result = recorded with { RevokedOn = recorded.RevokedOn ?? RevokedOn, RefusedBy = recorded.RefusedBy ?? RefusedBy };
        if (!SaysNoOther(RefusedBy, result.RefusedBy) || !SaysNoOther(RevokedOn, result.RevokedOn)) return FactVerdict.Contradicts;
        return result == recorded ? FactVerdict.Same : FactVerdict.Replaces;
    }

    protected override bool IsAboutTheSameAs(ReportedRefusal recorded) => Step == recorded.Step && RefusedOn == recorded.RefusedOn;

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedRefusal>(RowKind.Refusal, "refusals", day: "refused_on");
        var step = table.Code("step", f => f.Step);
        var refused = table.Date("refused_on", f => f.RefusedOn);
        var revoked = table.Date("revoked_on", f => f.RevokedOn);
        table.ForRules(r => new Refusal(step[r], refused[r]) { RevokedOn = revoked[r] }, (f, all) => f with { Refusals = all });
        var by = table.Secret("refused_by", f => f.RefusedBy);
        table.ReadAs(r => new(step[r], refused[r]) { RevokedOn = revoked[r], RefusedBy = by[r] });
        return table;
    }
}
