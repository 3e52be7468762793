using System.Text.Json;
using Npgsql;
using Registry.Intake.Formats;
using Registry.Intake.Mappings;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.Applying;

/// <summary>A submission as it is stored: how it is read, and how far it is.</summary>
internal sealed record StoredSubmission
{
    private static readonly string Sql = EmbeddedSql.Of<StoredSubmission>();

    public required SubmissionId Id { get; init; }
    public required SiteId SiteId { get; init; }
    public required SubmissionState State { get; init; }
    public required DateTimeOffset ReceivedAt { get; init; }
    public DateTimeOffset? FinishedAt { get; init; }
    public required HowToRead Read { get; init; }
    public string? FileName { get; init; }
    public required long Bytes { get; init; }
    public required byte[] Sha256 { get; init; }
    public required int Rows { get; init; }
    public required int RowsDone { get; init; }

    /// <summary>How many rows have each <see cref="RowOutcome"/> so far.</summary>
    public required int[] Counts { get; init; }

    /// <summary>Why the file as a whole cannot be read.</summary>
    public IReadOnlyList<FileProblem> Refusal { get; init; } = [];

    /// <summary>The mapping <see cref="HowToRead.Mapping"/> is a version of.</summary>
    public Guid? MappingId { get; init; }

    /// <returns>Null when there is no such submission.</returns>
    public static async Task<StoredSubmission?> FindAsync(NpgsqlConnection connection, SubmissionId id, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.AddWithValue(id.Value);
        await using var r = await command.ExecuteReaderAsync(ct);
        if (!await r.ReadAsync(ct)) return null;
        return new()
        {
            Id = id,
            SiteId = new(r.GetGuid(0)),
            State = r.Code<SubmissionState>(1),
            ReceivedAt = r.Moment(2),
            FinishedAt = r.ValueOrNull<DateTimeOffset>(3),
            Read = new(r.Code<SubmissionFormat>(4), r.CodeOrNull<RowKind>(5))
            {
                Gzip = r.GetBoolean(6),
                Encoding = r.CodeOrNull<TextEncoding>(7),
                Sheet = r.TextOrNull(8),
                Mapping = r.IsDBNull(20) ? null : FindMapping.Read(r, 20),
            },
            FileName = r.TextOrNull(9),
            Bytes = r.GetInt64(10),
            Sha256 = r.GetFieldValue<byte[]>(11),
            Rows = r.GetInt32(12),
            RowsDone = r.GetInt32(13),
            Counts = [r.GetInt32(14), r.GetInt32(15), r.GetInt32(16), r.GetInt32(17)],
            Refusal = r.TextOrNull(18) is { } refusal
                ? JsonSerializer.Deserialize<List<FileProblem>>(refusal, JsonSerializerOptions.Web)! : [],
            MappingId = r.ValueOrNull<Guid>(19),
        };
    }
}
