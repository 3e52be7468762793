using Registry.Access;
using Registry.Ui;

namespace Registry.Infants.List;

/// <summary>The infants behind a number: a list by filter, and the same list as CSV.</summary>
[ShowsInfants]
public sealed class InfantsModel(ShowInfants infants, SiteChoices sites, AsOf asOf) : InfantListModel(infants, sites, asOf)
{
    protected override string DefaultSort => "-born";
    protected override string FileName => "infants";
    protected override IReadOnlyList<InfantColumn> Columns { get; } = InfantColumn.Named(
        "record_number", "born_on", "birth_site", "responsible_site", "screening", "screened", "diagnosed", "enrolled", "hearing",
        "next_step", "next_due_on", "loss", "lost_at", "contact_attempts", "last_contact_on", "as_of", "policy_version");
}
