using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

public sealed record ReportedContact(PathStep Step, DateOnly AttemptedOn, ContactOutcome Outcome) : ReportedFact<ReportedContact>
{
    public ContactChannel? Channel { get; init; }
    public ContactPerson? Person { get; init; }
    public DateOnly? CallAgainOn { get; init; }
    public string? Note { get; init; }

    public override DateOnly On => AttemptedOn;
    public override string? Code => Codes.Of(Outcome);

    protected override FactVerdict ComparedWith(ReportedContact recorded, bool sameSite, out ReportedContact result)
    {
        result = this;
        return sameSite && this == recorded ? FactVerdict.Same : FactVerdict.New;
    }

    protected override bool IsAboutTheSameAs(ReportedContact recorded) => Step == recorded.Step && AttemptedOn == recorded.AttemptedOn;
    protected override bool TakesBack(ReportedContact recorded) => IsAboutTheSameAs(recorded) && Outcome == recorded.Outcome;

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedContact>(RowKind.Contact, "contacts", day: "attempted_on");
        table.OpensByOwnWord();
        var step = table.Code("step", f => f.Step);
        var attempted = table.Date("attempted_on", f => f.AttemptedOn);
        var outcome = table.Code("outcome", f => f.Outcome);
        var again = table.Date("call_again_on", f => f.CallAgainOn);
        table.ForRules(r => new ContactAttempt(step[r], attempted[r], outcome[r]) { CallAgainOn = again[r] },
            (f, all) => f with { ContactAttempts = all });
        var channel = table.CodeOrNull("channel", f => f.Channel);
        var person = table.CodeOrNull("person", f => f.Person);
        table.FilledByPages("entered_by", "entered_as", "form_key");
        var note = table.Secret("note", f => f.Note);
        table.ReadAs(r => new(step[r], attempted[r], outcome[r])
        {
            Channel = channel[r],
            Person = person[r],
            CallAgainOn = again[r],
            Note = note[r],
        });
        return table;
    }
}
