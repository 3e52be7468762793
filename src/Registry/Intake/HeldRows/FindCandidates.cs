using Npgsql;
using Registry.Facts;
using Registry.Intake.Applying;
using Registry.Intake.Rows;
using Registry.Matching;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.HeldRows;

/// <summary>An infant a held row might be about, as a coordinator compares it with the row.</summary>
public sealed record CandidateInfant(
    InfantId Id, DateOnly BornOn, string Sex, int? Plurality, int? BirthOrder, string? InfantName, string? MotherGivenName,
    string? MotherFamilyName, DateOnly? MotherBornOn, string BirthSite, IReadOnlyList<string> Identifiers);

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
        var found = await KnownInfants.FindAsync(connection, new(held.SiteId, row.RecordNumber, row.CardId, row.Identity)
        {
            PriorRecordNumber = (row.Fact as ReportedMerge)?.PriorRecordNumber,
        }, ct);
        return (await ReadAsync(connection, [.. found], identifier, ct), []);
    }

    /// <summary>How the child of a waiting birth is known already; null when it is not.</summary>
    public async Task<WhyRefused?> KnownChildAsync(HeldContent held, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        return await FindKnownChild.ForAsync(connection, held, [], clock, ct);
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
        command.Parameters.AddNullable(identifier?.Trim(), NpgsqlTypes.NpgsqlDbType.Text);
        var found = new List<CandidateInfant>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            found.Add(new(
                new(r.GetGuid(0)), r.Date(1), r.GetString(2), r.ValueOrNull<int>(3), r.ValueOrNull<int>(4), r.TextOrNull(5),
                r.TextOrNull(6), r.TextOrNull(7), r.ValueOrNull<DateOnly>(8), r.GetString(9), r.GetFieldValue<string[]>(10)));
        }

        return found;
    }
}
