using Registry.Records;

namespace Registry.Facts;

/// <summary>Who cares for the child's health and who pays, as somebody said. Of each thing the newest statement holds, as with
/// <see cref="ReportedFamilyContact"/>.</summary>
/// <param name="StatedOn">Null: of the day it was recorded.</param>
public sealed record ReportedCare(DateOnly? StatedOn) : ReportedFact<ReportedCare>
{
    public string? PrimaryCare { get; init; }
    public string? PrimaryCarePhone { get; init; }
    public bool? PrimaryCareConfirmed { get; init; }
    public string? Insurance { get; init; }

    public override DateOnly On => StatedOn ?? DateOnly.MaxValue;
    public override bool IsUndated => StatedOn is null;

    public bool SaysSomething => this != new ReportedCare(StatedOn);

    public override bool Outdates(ReportedFact earlier) => earlier is ReportedCare;

    protected override FactVerdict ComparedWith(ReportedCare recorded, bool sameSite, out ReportedCare result)
    {
        result = this;
        return sameSite && this == (IsUndated ? recorded with { StatedOn = null } : recorded) ? FactVerdict.Same : FactVerdict.New;
    }

    protected override bool IsAboutTheSameAs(ReportedCare recorded) => StatedOn == recorded.StatedOn;
    protected override bool TakesBack(ReportedCare recorded) => this == recorded;

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedCare>(RowKind.Care, "care", day: "stated_on");
        table.OpensByOwnWord();
        var stated = table.Date("stated_on", f => f.StatedOn);
        var provider = table.Secret("primary_care", f => f.PrimaryCare);
        var phone = table.Secret("primary_care_phone", f => f.PrimaryCarePhone);
        var confirmed = table.Bool("primary_care_confirmed", f => f.PrimaryCareConfirmed);
        var insurance = table.Text("insurance", f => f.Insurance);
        table.ReadAs(r => new(stated[r])
        {
            PrimaryCare = provider[r],
            PrimaryCarePhone = phone[r],
            PrimaryCareConfirmed = confirmed[r],
            Insurance = insurance[r],
        });
        return table;
    }
}
