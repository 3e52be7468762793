using System.Text.Json;
using Registry.Platform;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.Rows;

/// <summary>
/// The stated fields of a held or rejected row as they are kept: a JSON object by column (<see cref="RowBatch.ToJson"/> writes it),
/// encrypted. The database compares such rows, and finds those that name somebody, by keyed hashes; everything else is done here.
/// </summary>
/// <param name="Text">The encrypted JSON.</param>
/// <param name="Key">The same for rows that state the same.</param>
/// <param name="IdentifierKeys">Of whom it names: the card, the record numbers, the birth date with the mother.</param>
public sealed record RowContent(string Text, string Key, string[] IdentifierKeys)
{
    /// <summary>A row as it is to be kept.</summary>
    public static RowContent Of(string json) => Of(json, FieldKeys.OfProcess);

    /// <summary>The same, under other keys than the process's.</summary>
    public static RowContent Of(string json, FieldKeys keys)
    {
        var stated = JsonSerializer.Deserialize<Dictionary<string, string>>(json)!;
        var identifiers = new List<string>(4);
        if (stated.GetValueOrDefault(Codes.Of(Field.CardId)) is { } card) identifiers.Add(keys.KeyOfCard(card));
        foreach (var field in (ReadOnlySpan<Field>)[Field.RecordNumber, Field.PriorRecordNumber])
            if (stated.GetValueOrDefault(Codes.Of(field)) is { } number) identifiers.Add(keys.KeyOfRecordNumber(number));
        if (AskedDay.TryRead(stated.GetValueOrDefault(Codes.Of(Field.BirthDate), ""), out var born)
            && NormaliseName.Of(stated.GetValueOrDefault(Codes.Of(Field.MotherFamilyName))) is { } mother)
            identifiers.Add(keys.KeyOfBirth(born, mother));
        // Whatever order the columns came in.
        var print = JsonSerializer.Serialize(new SortedDictionary<string, string>(stated, StringComparer.Ordinal));
        return new(keys.Encrypt(json, SubmissionRow.ContentColumn)!, keys.KeyOfContent(print), [.. identifiers]);
    }

    /// <summary>The JSON of a row as it is stored; one that was stored before it was encrypted is the JSON.</summary>
    public static string Open(string stored) => FieldKeys.OfProcess.Decrypt(stored, SubmissionRow.ContentColumn)!;

    public static IReadOnlyDictionary<Field, string> Fields(string json) =>
        JsonSerializer.Deserialize<Dictionary<string, string>>(json)!.ToDictionary(f => Codes.Parse<Field>(f.Key), f => f.Value);
}
