using System.Text.Json;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Accounts;

/// <summary>What a person was at one moment, of what is kept.</summary>
public sealed record PersonState(string? Name, Placing Placing, bool Disabled)
{
    public Role Role => Placing.Role;
    public SiteId? Site => Placing.Site;
}

/// <summary>One change the database kept.</summary>
/// <param name="Id">Its number.</param>
/// <param name="PersonId">Whose.</param>
/// <param name="At">When.</param>
/// <param name="Kind">insert, update, place_added or place_removed.</param>
/// <param name="Before">What was; null for what is new.</param>
/// <param name="After">What became.</param>
public sealed record PersonChange(long Id, Guid PersonId, DateTimeOffset At, string Kind, PersonState? Before, PersonState? After);

/// <summary>One person with places, sessions and history.</summary>
public sealed record PersonShown(
    Person Person, IReadOnlyList<PersonPlace> Places, IReadOnlyList<Session> Sessions, DateTimeOffset? SeenAt,
    IReadOnlyList<PersonChange> Changes, DateTimeOffset? InvitedUntil);

public sealed class ShowPerson(RegistryDb db, NpgsqlDataSource source, Sessions sessions, TimeProvider clock)
{
    private const int ChangesShown = 50;

    /// <returns>Null when there is no such person.</returns>
    public async Task<PersonShown?> RunAsync(Guid id, CancellationToken ct)
    {
        if (await db.Users.AsNoTracking().SingleOrDefaultAsync(p => p.Id == id, ct) is not { } person) return null;
        var now = clock.GetUtcNow();
        var open = await (await sessions.InForceAsync(db, ct)).Where(s => s.PersonId == id).ToListAsync(ct);
        return new(person, await PlacesAsync(id, ct), open,
            await db.Sessions.Where(s => s.PersonId == id).MaxAsync(s => (DateTimeOffset?)s.SeenAt, ct), await ChangesAsync(id, ct),
            await db.OneTimeLinks.Where(l => l.PersonId == id && l.UsedAt == null && l.EndsAt > now)
                .MaxAsync(l => (DateTimeOffset?)l.EndsAt, ct));
    }

    public async Task<IReadOnlyList<PersonPlace>> PlacesAsync(Guid id, CancellationToken ct) =>
        await db.PersonPlaces.AsNoTracking().Where(p => p.PersonId == id).OrderBy(p => p.Since).ToListAsync(ct);

    /// <summary>The latest changes, the newest first.</summary>
    public async Task<IReadOnlyList<PersonChange>> ChangesAsync(Guid id, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            """
            select id, person_id, at, change, before::text, after::text from person_changes
             where person_id = $1 order by id desc limit $2
            """);
        command.Parameters.AddWithValue(id);
        command.Parameters.AddWithValue(ChangesShown);
        await using var r = await command.ExecuteReaderAsync(ct);
        var changes = new List<PersonChange>();
        while (await r.ReadAsync(ct))
            changes.Add(new(r.GetInt64(0), r.GetGuid(1), r.Moment(2), r.GetString(3), StateOf(r.TextOrNull(4)), StateOf(r.TextOrNull(5))));
        return changes;
    }

    private static PersonState? StateOf(string? json)
    {
        if (json is null) return null;
        using var document = JsonDocument.Parse(json);
        var site = Guid.TryParse(Text(document, "site_id"), out var id) ? new SiteId(id) : (SiteId?)null;
        return new(Text(document, "display_name"), new(Codes.Parse<Role>(Text(document, "role")!), site, Counties(document)),
            Text(document, "disabled_at") is not null);
    }

    private static string[] Counties(JsonDocument document) => document.RootElement.TryGetProperty("counties", out var counties)
        ? [.. counties.EnumerateArray().Select(c => c.GetString()!)] : [];

    private static string? Text(JsonDocument document, string name) =>
        document.RootElement.TryGetProperty(name, out var value) && value.ValueKind == JsonValueKind.String ? value.GetString() : null;
}
