using Npgsql;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.Applying;

/// <summary>A held or rejected row as it was sent.</summary>
public sealed record HeldContent(
    SubmissionId SubmissionId, int RowNumber, SiteId SiteId, DateTimeOffset ReceivedAt, string Content, int Line)
{
    /// <summary>What the reader of the file found and nobody answered yet; <see cref="Content"/> does not show it.</summary>
    public IReadOnlyList<Problem> FoundByReader { get; init; } = [];

    /// <summary>Reads the first seven columns: a row's submission, number, site, <c>received_at</c>, content, line and problems, as
    /// they are stored.</summary>
    internal static HeldContent Read(NpgsqlDataReader r) =>
        new(new(r.GetGuid(0)), r.GetInt32(1), new(r.GetGuid(2)), r.Moment(3), RowContent.Open(r.GetString(4)), r.GetInt32(5))
        {
            FoundByReader = ProblemsJson.FoundByReader(r.TextOrNull(6)),
        };

    internal static async Task<List<HeldContent>> ReadAllAsync(NpgsqlCommand select, CancellationToken ct)
    {
        var rows = new List<HeldContent>();
        await using var reader = await select.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) rows.Add(Read(reader));
        return rows;
    }

    /// <summary>Checks the content again. It passed its checks when it came, on the day it came, but the registry may have changed since: a
    /// site's code, what kind of site it is.</summary>
    /// <returns>The row, or null with what is wrong with it now.</returns>
    internal RowToApply? ToApply(ProgramClock clock, KnownSites sites, DateTimeOffset recordedAt, out IReadOnlyList<Problem> problems)
    {
        var batch = new RowBatch(1);
        batch.AddJson(RowNumber, Line, Content);
        var row = sites.Check(clock, ReceivedAt, SiteId).Check(batch, 0, out _, out problems);
        return row is null ? null : new(SubmissionId, SiteId, RowNumber, row, recordedAt);
    }
}
