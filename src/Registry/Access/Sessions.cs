using System.Buffers.Text;
using System.Security.Cryptography;
using System.Text;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;

namespace Registry.Access;

/// <summary>Who is behind a session, as the table of people has it at this moment.</summary>
/// <param name="Id">The session.</param>
/// <param name="PersonId">Whose.</param>
/// <param name="Role">What they are in the place the session works in.</param>
/// <param name="SiteId">Its site.</param>
/// <param name="Name">Of the person.</param>
/// <param name="MustChangePassword">The password is one that was given.</param>
/// <param name="Lacks">What is wanted before anything opens.</param>
/// <param name="HasPlaces">They work in more than one.</param>
/// <param name="Counties">A case worker's, in that place.</param>
/// <param name="Glasses">Those they broke in that place and that are open now.</param>
public sealed record SessionInForce(
    Guid Id, Guid PersonId, Role Role, SiteId? SiteId, string Name, bool MustChangePassword, SecondFactor Lacks, bool HasPlaces,
    IReadOnlyList<string> Counties, IReadOnlyList<Guid> Glasses);

/// <summary>What a session lacks.</summary>
public enum SecondFactor
{
    Nothing,

    /// <summary>A code of the factor the person has.</summary>
    Code,

    /// <summary>A factor: the person sees more than one site and has none.</summary>
    Factor,
}

/// <summary>
/// Sessions of people. Looked up at every request and kept in no memory: a session ended, a person disabled or given another role is so
/// from the next request on, on every node. That costs one read by key (docs/decisions/2026-11-28-sign-in-and-sessions.md).
/// </summary>
public sealed class Sessions(
    NpgsqlDataSource source, PolicyStore policies, ProgramClock days, TimeProvider clock, AccessSettings settings,
    Demonstration demonstration)
{
    private const int TokenBytes = 32;
    private const int LongestBrowser = 200;
    private static readonly TimeSpan NotedEvery = TimeSpan.FromMinutes(1);
    private static readonly string Find = EmbeddedSql.Of<Sessions>("FindSession");

    /// <returns>The token for the browser, shown to nobody else.</returns>
    public async Task<string> OpenAsync(Guid person, string? address, string? browser, bool secondFactor, CancellationToken ct)
    {
        var token = Base64Url.EncodeToString(RandomNumberGenerator.GetBytes(TokenBytes));
        await using var command = source.CreateCommand(
            """
            insert into sessions (id, token_sha256, person_id, opened_at, seen_at, address, browser, second_factor_at)
            values ($1, $2, $3, $4, $4, $5, $6, case when $7 then $4 end)
            """);
        command.Parameters.AddWithValue(Guid.CreateVersion7());
        command.Parameters.AddWithValue(Hash(token));
        command.Parameters.AddWithValue(person);
        command.Parameters.AddWithValue(clock.GetUtcNow());
        command.Parameters.AddNullable(address, NpgsqlDbType.Text);
        command.Parameters.AddNullable(browser is { Length: > LongestBrowser } ? browser[..LongestBrowser] : browser, NpgsqlDbType.Text);
        command.Parameters.AddWithValue(secondFactor);
        await command.ExecuteNonQueryAsync(ct);
        return token;
    }

    /// <summary>The session in force of a token, or null. Its use is noted at most once a minute.</summary>
    public async Task<SessionInForce?> ForAsync(string token, CancellationToken ct)
    {
        if (token.Length != Base64Url.GetEncodedLength(TokenBytes)) return null;
        var (now, idle) = (clock.GetUtcNow(), await IdleAsync(ct));
        await using var connection = await source.OpenConnectionAsync(ct);
        SessionInForce session;
        await using (var command = new NpgsqlCommand(Find, connection))
        {
            command.Parameters.AddWithValue("token", Hash(token));
            command.Parameters.AddWithValue("opened_after", now - settings.Longest);
            command.Parameters.AddWithValue("seen_after", now - idle);
            command.Parameters.AddWithValue("demonstration", demonstration.IsOn);
            command.Parameters.AddWithValue("now", now);
            await using var r = await command.ExecuteReaderAsync(ct);
            if (!await r.ReadAsync(ct)) return null;
            var (role, several) = (r.Code<Role>(2), r.GetBoolean(10));
            session = new(r.GetGuid(0), r.GetGuid(1), role, r.ValueOrNull<Guid>(3) is { } site ? new SiteId(site) : null,
                r.GetString(4), r.GetBoolean(5), Lacks(shown: r.GetBoolean(7), has: r.GetBoolean(8), demonstration: r.GetBoolean(9),
                    seesSeveralSites: several || Permissions.SeesSeveralSites(role)), several,
                r.GetFieldValue<string[]>(11), r.GetFieldValue<Guid[]>(12));
            if (now - r.Moment(6) < NotedEvery) return session;
        }

        await using var note = new NpgsqlCommand("update sessions set seen_at = $2 where id = $1", connection);
        note.Parameters.AddWithValue(session.Id);
        note.Parameters.AddWithValue(now);
        await note.ExecuteNonQueryAsync(ct);
        return session;
    }

    private SecondFactor Lacks(bool shown, bool has, bool demonstration, bool seesSeveralSites) =>
        shown ? SecondFactor.Nothing : has ? SecondFactor.Code
        : seesSeveralSites && settings.RequireSecondFactor && !demonstration ? SecondFactor.Factor : SecondFactor.Nothing;

    /// <summary>Works in another of the person's places from the next request on; the first with no id.</summary>
    public async Task<bool> WorkInAsync(Guid session, Guid? place, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            """
            update sessions s set place_id = $2
             where s.id = $1 and ($2::uuid is null or exists (select from person_places w where w.id = $2 and w.person_id = s.person_id))
            """);
        command.Parameters.AddWithValue(session);
        command.Parameters.AddNullable(place, NpgsqlDbType.Uuid);
        return await command.ExecuteNonQueryAsync(ct) == 1;
    }

    /// <summary>Signing out: the token opens nothing from now on, wherever it is held.</summary>
    public async Task EndAsync(string token, CancellationToken ct)
    {
        await using var command = source.CreateCommand("update sessions set ended_at = $2 where token_sha256 = $1 and ended_at is null");
        command.Parameters.AddWithValue(Hash(token));
        command.Parameters.AddWithValue(clock.GetUtcNow());
        await command.ExecuteNonQueryAsync(ct);
    }

    /// <summary>Ends sessions of one person.</summary>
    /// <param name="person">Whose.</param>
    /// <param name="only">This one; null: all.</param>
    /// <param name="except">But not this one.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>How many were ended.</returns>
    public async Task<int> EndAsync(Guid person, Guid? only, Guid? except, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            """
            update sessions set ended_at = $4
             where person_id = $1 and ended_at is null and ($2::uuid is null or id = $2) and id is distinct from $3
            """);
        command.Parameters.AddWithValue(person);
        command.Parameters.AddNullable(only, NpgsqlDbType.Uuid);
        command.Parameters.AddNullable(except, NpgsqlDbType.Uuid);
        command.Parameters.AddWithValue(clock.GetUtcNow());
        return await command.ExecuteNonQueryAsync(ct);
    }

    /// <summary>Ends those that were opened without the second factor the person has by now.</summary>
    public async Task EndOthersAsync(Guid person, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            """
            update sessions set ended_at = $2
             where person_id = $1 and ended_at is null
               and id <> (select id from sessions where person_id = $1 and second_factor_at is not null order by opened_at desc limit 1)
            """);
        command.Parameters.AddWithValue(person);
        command.Parameters.AddWithValue(clock.GetUtcNow());
        await command.ExecuteNonQueryAsync(ct);
    }

    /// <summary>Those in force, the latest used first.</summary>
    public async Task<IQueryable<Session>> InForceAsync(RegistryDb db, CancellationToken ct)
    {
        var (now, idle) = (clock.GetUtcNow(), await IdleAsync(ct));
        return db.Sessions.AsNoTracking()
            .Where(s => s.EndedAt == null && s.OpenedAt > now - settings.Longest && s.SeenAt > now - idle)
            .OrderByDescending(s => s.SeenAt);
    }

    /// <summary>Whether the person signed in from an address before, lately.</summary>
    public async Task<bool> KnowsAddressAsync(Guid person, string address, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            "select exists (select 1 from sessions where person_id = $1 and address = $2 and opened_at > $3)");
        command.Parameters.AddWithValue(person);
        command.Parameters.AddWithValue(address);
        command.Parameters.AddWithValue(clock.GetUtcNow().AddDays(-90));
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }

    /// <summary>How long a session may lie idle, by the policy in force.</summary>
    private async Task<TimeSpan> IdleAsync(CancellationToken ct) =>
        TimeSpan.FromMinutes((await policies.InForceAsync(days.Today, ct)).SessionIdleMinutes);

    private static byte[] Hash(string token) => SHA256.HashData(Encoding.UTF8.GetBytes(token));
}
