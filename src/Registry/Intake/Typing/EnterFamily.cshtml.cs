using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Registry.Access;
using Registry.Facts;
using Registry.Infants.Record;
using Registry.Intake.Receiving;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Intake.Typing;

/// <summary>
/// What is said of a family, typed: by whoever sends rows, and by a case worker who has the family on the telephone. A case worker has no
/// site; what they type is recorded for the site whose birth it is. That site sees the infant as it is, so the entry shows the record to
/// nobody; and it is its number that finds the infant again.
/// </summary>
[Authorize(Policy = Permissions.EnterFamily), ShowsInfants, LimitedIntake]
public sealed class EnterFamilyModel(
    TypeRows type, CorrectFact correct, OpenRecord records, SiteChoices choices, FindSite sites, Viewer viewer, AsOf asOf)
    : TypedKindModel(type, correct, records, choices, sites, viewer, asOf)
{
    private readonly bool _hasNoSite = viewer.IsCaseWorker;

    /// <summary>Who something is said of, as the record asks for it.</summary>
    [FromQuery(Name = "of")] public string? Of { get; set; }

    /// <summary>The site it is recorded for, where the person does not choose one.</summary>
    public string? RecordedFor => _hasNoSite ? Record?.BirthSite : null;

    protected override RowKind? Asked => FamilyKind.Of(KindCode);

    /// <remarks>A record that is open by a broken glass is to be read.</remarks>
    protected override bool May(OpenedRecord record) => !record.ByGlass;

    protected override bool IsForThisInfantOnly => _hasNoSite;
    protected override string NoSite => _hasNoSite ? TypingWords.BirthUnknown : base.NoSite;

    protected override Task<SiteId?> SiteAsync(CancellationToken ct) => _hasNoSite
        ? Task.FromResult(Record!.TimeLine.FirstOrDefault(e => e is { Fact: ReportedBirth, SupersededAt: null })?.Said.SiteId)
        : base.SiteAsync(ct);

    protected override Task BeginAsync(CancellationToken ct)
    {
        if (Kind == RowKind.FamilyContact && Codes.TryParse<FamilyRelation>(Of, out var relation))
            Form.Columns[Codes.Of(Field.Relation)] = Codes.Of(relation);
        return Task.CompletedTask;
    }
}
