using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

public sealed record ReportedContact(PathStep Step, DateOnly AttemptedOn, ContactOutcome Outcome) : ReportedFact<ReportedContact>
{
    public override DateOnly On => AttemptedOn;
    public override string? Code => Codes.Of(Outcome);

    protected override FactVerdict ComparedWith(ReportedContact recorded, bool sameSite, out ReportedContact result)
    {
        result = this;
        return sameSite && this == recorded ? FactVerdict.Same : FactVerdict.New;
    }

    protected override bool IsAboutTheSameAs(ReportedContact recorded) => Step == recorded.Step && AttemptedOn == recorded.AttemptedOn;
    protected override bool TakesBack(ReportedContact recorded) => this == recorded;

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedContact>(RowKind.Contact, "contacts", day: "attempted_on");
        var step = table.Code("step", f => f.Step);
        var attempted = table.Date("attempted_on", f => f.AttemptedOn);
        var outcome = table.Code("outcome", f => f.Outcome);
        table.ReadAs(r => new(step[r], attempted[r], outcome[r]));
        table.ForRules(
            r => new ContactAttempt(step[r], attempted[r], outcome[r]), (f, all) => f with { ContactAttempts = all });
        return table;
    }
}
