using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.Records;

namespace Registry.Erasure;

/// <summary>By what kept rows are found that name an infant though none was applied: their content is encrypted, and the database has only
/// keyed hashes of whom they name.</summary>
/// <param name="Identifiers">Of every number it was ever known by, with the site that gave it; a card's has none.</param>
/// <param name="Births">Of its birth date with the mother's name, as it was ever stated.</param>
internal sealed record KeptRowKeys(IReadOnlyList<(string Key, Guid? Site)> Identifiers, string[] Births)
{
    private static readonly string Sql = EmbeddedSql.Of<KeptRowKeys>();

    /// <summary>Nothing is added to the infant until the transaction ends.</summary>
    public static async Task<KeptRowKeys> ReadAsync(NpgsqlConnection connection, InfantId infant, CancellationToken ct)
    {
        var keys = FieldKeys.OfProcess;
        var (identifiers, births) = (new List<(string, Guid?)>(), new List<string>());
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.AddWithValue("infant", infant.Value);
        await using var r = await command.ExecuteReaderAsync(ct);
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct))
            identifiers.Add(r.Code<IdentifierKind>(0) == IdentifierKind.CardId
                ? (keys.KeyOfCard(r.GetString(2)), null) : (keys.KeyOfRecordNumber(r.GetString(2)), r.GetGuid(1)));
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct)) births.Add(keys.KeyOfBirth(r.Date(0), r.GetString(1)));
        return new(identifiers, [.. births]);
    }
}
