using Npgsql;
using Registry.Facts;
using Registry.Intake.Applying;
using Registry.Intake.Rows;
using Registry.Matching;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.HeldRows;

/// <summary>An infant a held row might be about, as a coordinator compares it with the row.</summary>
public sealed record CandidateInfant(
    InfantId Id, DateOnly BornOn, string Sex, int? Plurality, int? BirthOrder, string? InfantName, string? MotherGivenName,
    string? MotherFamilyName,
    DateOnly? MotherBornOn, string BirthSite, IReadOnlyList<string> Identifiers);

/// <summary>Finds the infants a held row might be about: by the matching's own queries, or by an identifier somebody typed.</summary>
public sealed class FindCandidates(NpgsqlDataSource source, ProgramClock clock)
{
    private static readonly string Sql = EmbeddedSql.Of<FindCandidates>();

    /// <returns>The infants; and what is wrong with the row by now, when it passes its checks no more: then only the identifier finds
    /// any.</returns>
    public async Task<(IReadOnlyList<CandidateInfant> Infants, IReadOnlyList<Problem> Problems)> ForRowAsync(
        HeldContent held, string? identifier, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        if (held.ToApply(clock, await KnownSites.ReadAsync(connection, ct), clock.Now, out var problems)?.Row is not { } row)
            return (await ReadAsync(connection, [], identifier, ct), problems);
        // By identifier and by mother separately: for a person, a contradicted identifier does not hide the others.
        var byIdentifier = new StatedIdentity(held.SiteId, row.RecordNumber, row.CardId,
            row.Identity)
        { PriorRecordNumber = (row.Fact as ReportedMerge)?.PriorRecordNumber };
        var known = await KnownInfants.LoadAsync(connection, [byIdentifier, byIdentifier with { RecordNumber = null, CardId = null }], [],
            ct);
        return (await ReadAsync(connection, known.Stored.ToArray(), identifier, ct), []);
    }

    /// <summary>The infants known by an identifier, of any site.</summary>
    public async Task<IReadOnlyList<CandidateInfant>> ByIdentifierAsync(string identifier, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        return await ReadAsync(connection, [], identifier, ct);
    }

    private static async Task<IReadOnlyList<CandidateInfant>> ReadAsync(
        NpgsqlConnection connection, Guid[] infants, string? identifier, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.AddWithValue(infants);
        command.Parameters.Add(
            new NpgsqlParameter { Value = (object?)identifier?.Trim() ?? DBNull.Value, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Text });
        var found = new List<CandidateInfant>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            found.Add(new(
                new(r.GetGuid(0)), r.GetFieldValue<DateOnly>(1), r.GetString(2), Int(3), Int(4), Text(5), Text(6), Text(7),
                r.IsDBNull(8) ? null : r.GetFieldValue<DateOnly>(8), r.GetString(9), r.GetFieldValue<string[]>(10)));
        }

        return found;

        int? Int(int i) => r.IsDBNull(i) ? null : r.GetInt32(i);
        string? Text(int i) => r.IsDBNull(i) ? null : r.GetString(i);
    }

    /// <summary>The row as it was sent, with its state; null when there is no such held or rejected row.</summary>
    public async Task<HeldRowView?> ReadAsync(SubmissionId id, int row, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            """
            select s.site_id, site.name, s.received_at, r.content::text, r.line, r.outcome, h.reason, h.resolution, h.resolved_at, r.infant_id, r.discarded_at is not null,
                   h.resolution = 'applied' and h.resolved_by is null, r.problems::text, r.kind,
                   (select concat(p ->> 'submission', '/rows/', p ->> 'row') from jsonb_array_elements(r.problems) p where p ->> 'submission' is not null limit 1)
              from submission_rows r
              join submissions s on s.id = r.submission_id
              join sites site on site.id = s.site_id
              left join held_rows h on h.submission_id = r.submission_id and h.row_number = r.row_number
             where r.submission_id = $1 and r.row_number = $2 and r.content is not null
            """);
        command.Parameters.AddWithValue(id.Value);
        command.Parameters.AddWithValue(row);
        await using var r = await command.ExecuteReaderAsync(ct);
        if (!await r.ReadAsync(ct)) return null;
        return new HeldRowView(
            new HeldContent(id, row, new(r.GetGuid(0)), r.GetFieldValue<DateTimeOffset>(2), r.GetString(3), r.GetInt32(4))
            {
                FoundByReader = ProblemsJson.FoundByReader(r.IsDBNull(12) ? null : r.GetString(12)),
            },
            r.GetString(1),
            Codes.Parse<RowOutcome>(r.GetString(5)),
            r.IsDBNull(6) ? null : Codes.Parse<Rules.Linkage.HoldReason>(r.GetString(6)),
            r.IsDBNull(8) ? null : r.GetFieldValue<DateTimeOffset>(8), r.IsDBNull(9) ? null : new InfantId(r.GetGuid(9)), r.GetBoolean(10),
            !r.IsDBNull(11) && r.GetBoolean(11), r.IsDBNull(13) ? null : Codes.Parse<RowKind>(r.GetString(13)), r.IsDBNull(14)
                ? null : r.GetString(14));
    }
}

/// <summary>A row that was held or rejected, and how it stands.</summary>
/// <param name="Discarded">Rejected, and waits for nobody.</param>
/// <param name="SentAgainAs">The row that came back in its place: <c>submission/rows/row</c>.</param>
/// <param name="SettledItself">It waited until <paramref name="ResolvedAt"/>, and nobody decided.</param>
public sealed record HeldRowView(
    HeldContent Content, string SiteName, RowOutcome Outcome, Rules.Linkage.HoldReason? Reason, DateTimeOffset? ResolvedAt,
    InfantId? InfantId, bool Discarded, bool SettledItself, RowKind? Kind, string? SentAgainAs);
