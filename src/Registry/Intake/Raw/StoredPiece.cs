using Npgsql;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.Records;

namespace Registry.Intake.Raw;

/// <summary>A piece of raw bytes as it is stored: encrypted, readable only where it stands in its submission.</summary>
public static class StoredPiece
{
    /// <returns>What goes into the columns <c>bytes</c> and <c>key_id</c>.</returns>
    public static (byte[] Bytes, string KeyId) Of(ReadOnlySpan<byte> plain, SubmissionId id, int ordinal)
    {
        var keys = FieldKeys.OfProcess;
        return (keys.Seal(plain, FieldKeys.PlaceOf(id.Value, ordinal)), keys.CurrentId);
    }

    /// <summary>Reads the columns <c>bytes, key_id</c>.</summary>
    public static byte[] Read(NpgsqlDataReader piece, SubmissionId id, int ordinal)
    {
        var stored = piece.GetFieldValue<byte[]>(0);
        return piece.TextOrNull(1) is { } key ? FieldKeys.OfProcess.Open(key, stored, FieldKeys.PlaceOf(id.Value, ordinal)) : stored;
    }
}
