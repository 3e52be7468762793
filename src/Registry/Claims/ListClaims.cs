using Npgsql;
using NpgsqlTypes;
using Registry.Access;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.Records;

namespace Registry.Claims;

/// <summary>A site's reports about an infant it has not reported on before.</summary>
/// <param name="Agrees">Which stated details agree with the infant's: why they were taken to mean it.</param>
/// <param name="Says">What each of the rows reports: its columns, without those that say who it is or how to reach the family.</param>
public sealed record Claim(
    SiteId SiteId, string SiteCode, string SiteName, InfantId InfantId, DateOnly BornOn, string BirthSite, string Infant, string Mother,
    DateTimeOffset Since, int Rows, IReadOnlyList<Field> Agrees, IReadOnlyList<IReadOnlyList<(Field Field, string Value)>> Says);

/// <summary>What was last said of a claim.</summary>
public sealed record DecidedClaim(
    SiteId SiteId, string SiteName, InfantId InfantId, ClaimVerdict Verdict, DateTimeOffset At, string? Person, string? Reason);

/// <summary>The claims somebody may decide: a coordinator all, the manager of a birth site those about infants born there.</summary>
public sealed class ListClaims(NpgsqlDataSource source, Viewer viewer)
{
    /// <summary>Claims on one page, and decided ones below them.</summary>
    public const int PageSize = 50, Decided = 20;

    private static readonly (Field Field, int Column)[] Details =
        [(Field.CardId, 10), (Field.BirthDate, 11), (Field.MotherFamilyName, 12), (Field.MotherBirthDate, 13)];

    /// <param name="of">Of one claimant; null: all.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<IReadOnlyList<Claim>> WaitingAsync(SiteId? of, CancellationToken ct)
    {
        await using var command = Command(EmbeddedSql.Of<ListClaims>());
        command.Parameters.AddNullable(of?.Value, NpgsqlDbType.Uuid);
        command.Parameters.AddWithValue(PageSize);
        await using var r = await command.ExecuteReaderAsync(ct);
        var claims = new List<Claim>();
        while (await r.ReadAsync(ct))
        {
            claims.Add(new(
                new(r.GetGuid(0)), r.GetString(1), r.GetString(2), new(r.GetGuid(3)), r.Date(4), r.GetString(5), r.GetString(6),
                r.GetString(7), r.Moment(8), r.GetInt32(9),
                [.. Details.Where(d => r.ValueOrNull<bool>(d.Column) == true).Select(d => d.Field)],
                [.. r.GetFieldValue<string[]>(14).Select(Says)]));
        }

        return claims;
    }

    public async Task<int> CountAsync(SiteId? of, CancellationToken ct)
    {
        await using var command = Command(EmbeddedSql.Of<ListClaims>("CountClaims"));
        command.Parameters.AddNullable(of?.Value, NpgsqlDbType.Uuid);
        return (int)(await command.ExecuteScalarAsync(ct))!;
    }

    public async Task<IReadOnlyList<DecidedClaim>> DecidedAsync(CancellationToken ct)
    {
        await using var command = Command(EmbeddedSql.Of<ListClaims>("ListDecided"));
        command.Parameters.AddWithValue(Decided);
        await using var r = await command.ExecuteReaderAsync(ct);
        var claims = new List<DecidedClaim>();
        while (await r.ReadAsync(ct))
        {
            claims.Add(new(
                new(r.GetGuid(0)), r.GetString(1), new(r.GetGuid(2)), r.Code<ClaimVerdict>(3), r.Moment(4), r.TextOrNull(5),
                FieldKeys.OfProcess.Decrypt(r.TextOrNull(6), "claim_decisions.reason")));
        }

        return claims;
    }

    private NpgsqlCommand Command(string sql)
    {
        var command = source.CreateCommand(sql);
        command.Parameters.AddWithValue(viewer.IsCoordinator);
        command.Parameters.AddNullable(viewer.SiteId?.Value, NpgsqlDbType.Uuid);
        return command;
    }

    private static IReadOnlyList<(Field Field, string Value)> Says(string content) =>
        [.. RowContent.Fields(RowContent.Open(content)).Where(f => !FieldValues.ArePersonal(f.Key)).OrderBy(f => f.Key)
            .Select(f => (f.Key, f.Value))];
}
