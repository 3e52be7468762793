using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Intake.HeldRows;

/// <summary>The columns a person is offered to correct a row, and what may stand in them.</summary>
public static class RowForm
{
    private static readonly Field[] Who =
    [
        Field.Kind, Field.Action, Field.RecordNumber, Field.CardId, Field.BirthDate, Field.Sex, Field.BirthOrder,
        Field.MotherGivenName, Field.MotherFamilyName, Field.MotherBirthDate,
    ];

    /// <summary>The columns of a row of this kind, then whatever else the row states.</summary>
    public static IReadOnlyList<Field> FieldsOf(RowKind? kind, IEnumerable<Field> stated) =>
        [.. Who.Concat(kind is { } k ? CheckRow.FieldsOf(k) : []).Concat(stated.Order()).Where(f => f != Field.Problems).Distinct()];

    public static bool IsPersonal(Field field) => FieldValues.ArePersonal(field);

    /// <summary>The codes a column may hold; empty when it is not coded.</summary>
    public static IEnumerable<string> CodesOf(Field field) => FieldValues.CodesOf(field);
}
