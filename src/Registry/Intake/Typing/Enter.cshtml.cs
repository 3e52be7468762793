using Microsoft.AspNetCore.Authorization;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Intake.HeldRows;
using Registry.Intake.Receiving;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Intake.Typing;

/// <summary>One fact of a kind, typed. Without an infant it is a birth. What is said of a family has a form of its own, which more people
/// may use (<see cref="EnterFamilyModel"/>).</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants, LimitedIntake]
public sealed class EnterModel(
    TypeRows type, CorrectFact correct, OpenRecord records, SiteChoices choices, FindSite sites, FindCandidates find, AuditReads audit,
    Viewer viewer, AsOf asOf)
    : TypedKindModel(type, correct, records, choices, sites, viewer, asOf)
{
    /// <summary>What is asked first of a birth: who it is about, and what the next days need.</summary>
    private static readonly Field[] OfBirth =
    [
        Field.RecordNumber, Field.CardId, Field.BirthDate, Field.BirthTime, Field.Sex, Field.InfantGivenName, Field.InfantFamilyName,
        Field.MotherGivenName, Field.MotherFamilyName, Field.MotherBirthDate, Field.ContactPhone, Field.DischargedOn, Field.Plurality,
        Field.BirthOrder,
    ];

    private readonly Role? _role = viewer.Role;
    private readonly DateOnly _today = asOf.Today;

    /// <summary>Numbers and the place of birth are not corrected with a birth: the infant is found by them.</summary>
    private static readonly Field[] NotCorrected = [Field.RecordNumber, Field.CardId, Field.BirthSite];

    public override IReadOnlyList<Field> Columns => Kind != RowKind.Birth ? base.Columns
        : Corrects is not null ? [.. OfBirth.Concat(base.Columns).Distinct().Except(NotCorrected)]
        : [.. OfBirth, .. base.Columns.Except(OfBirth).Where(f => f != Field.BirthSite || _role == Role.VitalRecords)];

    protected override RowKind? Asked => Id is null ? RowKind.Birth
        : Codes.TryParse<RowKind>(KindCode, out var kind) && !EnterWords.IsOfFamily(kind)
            && (EnterWords.IsEntered(kind) || (Corrects is not null && kind is RowKind.Birth or RowKind.Screening)
                || (kind == RowKind.Merge && _role == Role.Coordinator)) ? kind : null;

    protected override async Task<bool> FindAsync(CancellationToken ct)
    {
        if (!await base.FindAsync(ct)) return false;
        if (Id is null) await audit.ListAsync([], ct); // nobody is shown yet
        return true;
    }

    /// <summary>Two numbers are said to be one infant's only after both were seen.</summary>
    protected override async Task<IReadOnlyList<(string Says, InfantId? Infant)>> LookFirstAsync(CancellationToken ct)
    {
        if (Kind != RowKind.Merge || Form.Of(Field.PriorRecordNumber) is not { Length: > 0 } prior) return [];
        var others = (await find.ByIdentifierAsync(prior, ct)).Where(c => c.Id.Value != Id).ToList();
        await audit.ListAsync(others.Select(o => o.Id), ct);
        return [(TypingWords.Stays(Record!), null), .. others.Count == 0 ? [(TypingWords.NumberUnknown, null)]
            : others.Select(o => (TypingWords.OtherInfant(o), (InfantId?)o.Id))];
    }

    /// <summary>An appointment is mostly entered when it is made, about the step that waits.</summary>
    protected override Task BeginAsync(CancellationToken ct)
    {
        if (Kind != RowKind.Appointment || Record is null) return Task.CompletedTask;
        Form.Columns[Codes.Of(Field.Appointment)] = Codes.Of(AppointmentEvent.Made);
        Form.Columns[Codes.Of(Field.Step)] = Codes.Of(Record.LikelyStep);
        Form.Columns[Codes.Of(Field.HappenedOn)] = Day(_today);
        return Task.CompletedTask;
    }
}
