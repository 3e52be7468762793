using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.HeldRows;

/// <summary>The columns a person is offered to correct a row, and what may stand in them.</summary>
public static class RowForm
{
    private static readonly Field[] Who =
    [
        Field.Kind, Field.Action, Field.RecordNumber, Field.CardId, Field.BirthDate, Field.Sex, Field.BirthOrder,
        Field.MotherGivenName, Field.MotherFamilyName, Field.MotherBirthDate,
    ];

    /// <summary>Columns that say who the row is about or how to reach the family: no list shows their values.</summary>
    private static readonly HashSet<Field> Personal =
    [
        Field.RecordNumber, Field.CardId, Field.PriorRecordNumber, Field.BirthDate, Field.BirthTime, Field.MotherGivenName,
        Field.MotherFamilyName,
        Field.MotherBirthDate, Field.InfantGivenName, Field.InfantFamilyName, Field.ContactEmail, Field.ContactPhone,
    ];

    /// <summary>The columns of a row of this kind, then whatever else the row states.</summary>
    public static IReadOnlyList<Field> FieldsOf(RowKind? kind, IEnumerable<Field> stated) =>
        [.. Who.Concat(kind is { } k ? CheckRow.FieldsOf(k) : []).Concat(stated.Order()).Where(f => f != Field.Problems).Distinct()];

    public static bool IsPersonal(Field field) => Personal.Contains(field);

    /// <summary>The codes a column may hold; empty when it is not coded.</summary>
    public static IEnumerable<string> CodesOf(Field field) => field switch
    {
        Field.Kind => Codes.All<RowKind>(),
        Field.Action => Codes.All<RowAction>(),
        Field.Sex => Codes.All<Sex>(),
        Field.BirthPlace => Codes.All<BirthPlace>(),
        Field.Ear => Codes.All<Ear>(),
        Field.Outcome => Codes.All<ScreeningOutcome>(),
        Field.Method => Codes.All<ScreeningMethod>(),
        Field.Reason => Codes.All<ScreeningReason>().Where(c => c != Codes.Of(ScreeningReason.None)),
        Field.Stage => Codes.All<ScreeningStage>(),
        Field.RightFinding or Field.LeftFinding => Codes.All<EarFinding>(),
        Field.RightDegree or Field.LeftDegree => Codes.All<LossDegree>(),
        Field.Event => Codes.All<InterventionKind>(),
        Field.Move => Codes.All<MoveKind>(),
        Field.Step => Codes.All<PathStep>(),
        Field.Indicator => Codes.All<RiskIndicatorKind>(),
        Field.ContactOutcome => Codes.All<ContactOutcome>(),
        Field.EmailConsent or Field.Provisional or Field.Permanent or Field.RaisesRisk => ["true", "false"],
        _ => [],
    };
}
