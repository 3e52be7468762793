using System.Data;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Access;
using Registry.Intake.Applying;
using Registry.Intake.Formats;
using Registry.Intake.Mappings;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Receiving;

/// <summary>What would become of a file, had it been sent in earnest at this moment.</summary>
/// <param name="Rows">Rows the file holds.</param>
/// <param name="RowsTried">The first so many of them, each with its outcome; fewer than <paramref name="Rows"/> in a long file.</param>
/// <param name="Encoding">How its characters are read.</param>
/// <param name="Mapping">The column mapping it is read with, and its version.</param>
/// <param name="Errors">Why the file as a whole cannot be read.</param>
/// <param name="Outcomes">What would become of each row tried.</param>
public sealed record Trial(
    int Rows, int RowsTried, int Accepted, int Unchanged, int Rejected, int Held, string? Encoding, string? Mapping,
    IReadOnlyList<FileProblem> Errors, IReadOnlyList<RowReport> Outcomes);

/// <summary>
/// Tries a file: inspected to its end, its first rows read, checked and matched as if it were sent, and nothing stored: no bytes, no
/// facts, no outcome. The database itself refuses a write (a read-only transaction), nothing is locked, and nobody waits for it. The answer
/// knows only infants the viewer sees, and the access record keeps how many rows were tried: nobody learns here whom others reported.
/// </summary>
public sealed class TryRows(NpgsqlDataSource source, ProgramClock clock, IOptions<IntakeOptions> options)
{
    /// <param name="sent">What is stated with the bytes.</param>
    /// <param name="body">The bytes.</param>
    /// <param name="viewer">Who asks.</param>
    /// <param name="audit">Takes down that it was asked.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>Null when the body is larger than a dry run holds in memory.</returns>
    /// <exception cref="IOException">The body broke off.</exception>
    public async Task<Trial?> RunAsync(SentFile sent, Stream body, Viewer viewer, AuditReads audit, CancellationToken ct)
    {
        var trial = await TryAsync(sent, body, viewer, ct);
        if (trial is not null) await audit.ListAsync(trial.RowsTried, ct);
        return trial;
    }

    private async Task<Trial?> TryAsync(SentFile sent, Stream body, Viewer viewer, CancellationToken ct)
    {
        using var held = new MemoryStream();
        await using var bytes = new ReceivedBytes(body, options.Value.DryRunBytes, (_, piece, _) =>
        {
            held.Write(piece.Span);
            return Task.CompletedTask;
        });
        await using var connection = await source.OpenConnectionAsync(ct);
        Inspected file;
        try
        {
            file = await InspectFile.RunAsync(sent, bytes, Again, header =>
                FindMapping.ForAsync(connection, sent, header, ct), options.Value, ct);
        }
        catch (BodyTooLargeException)
        {
            return null;
        }

        var mapping = file.Read.Mapping is { } m ? $"{m.Name}, version {m.Version}" : null;
        var encoding = file.Read.Encoding is { } e ? Codes.Of(e) : null;
        if (file.Problems.Count > 0) return new(0, 0, 0, 0, 0, 0, encoding, mapping, file.Problems, []);

        // A Bundle is small, and every entry of it is answered.
        var isBundle = sent.Format == SubmissionFormat.Fhir;
        var batch = new RowBatch(isBundle ? file.RowCount : Math.Min(file.RowCount, options.Value.DryRunRows), whole: isBundle);
        using var rows = await OpenRows.ToReadAsync(file.Read, Again(), clock.Zone, new(source, sent.SiteId), ct);
        await rows.FillAsync(batch, ct);
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, ct);
        await using (var readOnly = new NpgsqlCommand("set transaction read only", connection)) await readOnly.ExecuteNonQueryAsync(ct);
        var check = (await KnownSites.ReadAsync(connection, ct)).Check(clock, sent.ReceivedAt, sent.SiteId);
        var chunk = await CheckedChunk.CheckAsync(
            connection, batch, 0, check, new(default, sent.SiteId, sent.ReceivedAt, rows.AllOrNothing), ct);
        var tried = await ApplyChunk.TryAsync(connection, chunk, Seen, clock.Today, ct);
        IReadOnlyList<RowReport> outcomes = [.. chunk.Results(tried).Select(r => r.Report())];
        await transaction.RollbackAsync(ct);
        return new(file.RowCount, batch.Count, Count(RowOutcome.Accepted), Count(RowOutcome.Unchanged), Count(RowOutcome.Rejected),
            Count(RowOutcome.Held), encoding, mapping, [], outcomes);

        Stream Again() => new MemoryStream(held.GetBuffer(), 0, (int)held.Length, writable: false);
        Task<IReadOnlySet<Guid>> Seen(IReadOnlyCollection<Guid> infants) => SeenAsync(connection, infants, viewer, ct);
        int Count(RowOutcome outcome) => outcomes.Count(r => r.Outcome == Codes.Of(outcome));
    }

    private static async Task<IReadOnlySet<Guid>> SeenAsync(NpgsqlConnection connection, IReadOnlyCollection<Guid> infants, Viewer viewer,
        CancellationToken ct)
    {
        var seen = new HashSet<Guid>();
        if (infants.Count == 0) return seen;
        await using var command = new NpgsqlCommand($"select i.id from unnest(@infants) as i (id) where {Visibility.Where("i.id")}",
            connection);
        command.Parameters.AddWithValue("infants", infants.ToArray());
        Visibility.Bind(command, viewer);
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) seen.Add(reader.GetGuid(0));
        return seen;
    }
}
