using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Intake.Receiving;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Intake.Typing;

/// <summary>One fact of any kind, typed: its columns are those of a row of that kind. Without an infant it is a birth.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants, LimitedIntake]
public sealed class EnterModel(
    TypeRows type, OpenRecord records, SiteChoices choices, FindSite sites, AuditReads audit, Viewer viewer, AsOf asOf)
    : TypingModel(type, records, choices, sites, viewer, asOf)
{
    /// <summary>What is asked first of a birth: who it is about, and what the next days need.</summary>
    private static readonly Field[] OfBirth =
    [
        Field.RecordNumber, Field.CardId, Field.BirthDate, Field.BirthTime, Field.Sex, Field.InfantGivenName, Field.InfantFamilyName,
        Field.MotherGivenName, Field.MotherFamilyName, Field.MotherBirthDate, Field.ContactPhone, Field.DischargedOn, Field.Plurality,
        Field.BirthOrder,
    ];

    [FromRoute(Name = "kind")] public string? KindCode { get; set; }

    /// <summary>Who something is said of, as the record asks for it.</summary>
    [FromQuery(Name = "of")] public string? Of { get; set; }

    public RowKind Kind { get; private set; }
    public IReadOnlyList<Site> Everywhere { get; private set; } = [];

    /// <summary>The columns in the order they are asked for.</summary>
    public IReadOnlyList<Field> Columns => Kind != RowKind.Birth
        ? [.. CheckRow.FieldsOf(Kind)]
        : [.. OfBirth, .. CheckRow.FieldsOf(Kind).Except(OfBirth).Where(f => f != Field.BirthSite || _role == Role.VitalRecords)];

    private readonly Role? _role = viewer.Role;
    private readonly DateOnly _today = asOf.Today;
    private readonly SiteChoices _choices = choices;

    protected override async Task<bool> FindAsync(CancellationToken ct)
    {
        Kind = RowKind.Birth;
        if (Id is not null)
        {
            if (!Codes.TryParse<RowKind>(KindCode, out var kind) || !EnterWords.IsEntered(kind)) return false;
            Kind = kind;
        }

        if (Columns.Any(f => TypingWords.InputOf(f) == InputKind.Place)) Everywhere = await _choices.ActiveAsync(ct);
        if (Id is null) await audit.ListAsync([], ct); // nobody is shown yet
        return true;
    }

    /// <summary>An appointment is mostly entered when it is made, about the step that waits.</summary>
    protected override Task BeginAsync(CancellationToken ct)
    {
        if (Kind == RowKind.FamilyContact && Codes.TryParse<FamilyRelation>(Of, out var relation))
            Form.Columns[Codes.Of(Field.Relation)] = Codes.Of(relation);
        if (Kind != RowKind.Appointment || Record is null) return Task.CompletedTask;
        Form.Columns[Codes.Of(Field.Appointment)] = Codes.Of(AppointmentEvent.Made);
        Form.Columns[Codes.Of(Field.Step)] = Codes.Of(Record.LikelyStep);
        Form.Columns[Codes.Of(Field.HappenedOn)] = Day(_today);
        return Task.CompletedTask;
    }

    protected override IReadOnlyList<TypedRow> Rows(SiteId site)
    {
        var columns = new Dictionary<Field, string>(Who(site));
        foreach (var field in Columns)
            if (Form.Of(field) is { Length: > 0 } stated) columns[field] = stated;
        return [new(Kind, columns)];
    }
}
