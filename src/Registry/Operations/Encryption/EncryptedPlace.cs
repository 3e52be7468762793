using Registry.Facts;
using Registry.Intake.Rows;
using Registry.Platform.Encryption;
using Registry.Records;

namespace Registry.Operations.Encryption;

/// <summary>A text as it is to be stored, with what it is found by.</summary>
/// <param name="Value">The encrypted text.</param>
/// <param name="LookUp">What it is compared by.</param>
/// <param name="Names">What it is found by that names somebody, with spaces between.</param>
public readonly record struct SealedText(string Value, string? LookUp = null, string? Names = null);

/// <summary>Texts that are encrypted, in one column.</summary>
/// <param name="Table">Their table.</param>
/// <param name="Column">Their column.</param>
/// <param name="Key">What a row of the table is known by, with its types.</param>
/// <param name="Read">SQL of the stored text.</param>
/// <param name="Set">SQL that stores <c>v.value</c>, <c>v.look_up</c> and <c>v.names</c>.</param>
/// <param name="Seal">A text as it is to be stored, from the text as it is stored.</param>
public sealed record EncryptedPlace(
    string Table, string Column, IReadOnlyList<(string Name, string Type)> Key, string Read, string Set,
    Func<string, FieldKeys, SealedText> Seal)
{
    private static readonly (string, string)[] Id = [("id", "uuid")], Number = [("id", "bigint")];
    private static readonly (string, string)[] Row = [("submission_id", "uuid"), ("row_number", "integer")];

    /// <summary>Every column that is encrypted. The pieces of raw files are the only others.</summary>
    public static IReadOnlyList<EncryptedPlace> All { get; } =
    [
        .. FactKinds.All.SelectMany(kind => kind.Columns.Where(c => c.IsSecret).Select(c => OfFact(kind, c.Name))),
        new("submission_rows", "content", Row, "content",
            "content = v.value, content_key = v.look_up, identifier_keys = string_to_array(v.names, ' ')", SealRow),
        new("row_changes", "before", Number, "before -> 'row' ->> 'content'",
            "before = jsonb_set(before, '{row}', (before -> 'row') || jsonb_build_object('content', v.value, 'content_key', v.look_up, "
                + "'identifier_keys', string_to_array(v.names, ' ')))", SealRow),
        Plain("bulk_decisions", "from_value", Id),
        Plain("bulk_decisions", "to_value", Id),
        Plain("claim_decisions", "reason", Number),
        Plain("opened_glasses", "words", Id),
        Plain("hand_offs", "to_name", Id),
        Plain("hand_offs", "for_whom", Id),
        Plain("searches", "note", Id),
        Plain("flag_acts", "words", [("finding_id", "uuid"), ("number", "integer")]),
        Plain("equipment_events", "words", Id),
        Plain("submissions", "file_name", Id),
        Plain("submissions", "sheet", Id),
        Plain("person_tokens", "value", [("user_id", "uuid"), ("login_provider", "text"), ("name", "text")]),
    ];

    private static EncryptedPlace Plain(string table, string column, (string, string)[] key) =>
        new(table, column, key, column, $"{column} = v.value", (stored, keys) => SealText(stored, keys, $"{table}.{column}"));

    private static EncryptedPlace OfFact(FactKind kind, string column)
    {
        var plain = Plain(kind.Table, column, Id);
        return kind.Written.Contains($"{column}_key") ? plain with
        {
            Set = $"{plain.Set}, {column}_key = v.look_up",
            Seal = (stored, keys) => SealText(stored, keys, $"{kind.Table}.{column}") with
            {
                LookUp = LookUp(column, keys.Decrypt(stored, $"{kind.Table}.{column}"), keys),
            },
        } : plain;
    }

    private static string? LookUp(string column, string? text, FieldKeys keys) =>
        column.EndsWith("phone", StringComparison.Ordinal) ? keys.KeyOfPhone(text) : keys.KeyOfEmail(text);

    private static SealedText SealText(string stored, FieldKeys keys, string place) =>
        new(keys.Encrypt(keys.Decrypt(stored, place), place)!);

    private static SealedText SealRow(string stored, FieldKeys keys)
    {
        var row = RowContent.Of(keys.Decrypt(stored, SubmissionRow.ContentColumn)!, keys);
        return new(row.Text, row.Key, string.Join(' ', row.IdentifierKeys));
    }
}
