using Hangfire;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using NpgsqlTypes;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Glasses;

/// <summary>Who the child is, as somebody who has it before them knows, and why its record is opened.</summary>
public sealed record GlassForm
{
    /// <summary>A record number of any site, or the id of a blood-spot card.</summary>
    public string? Number { get; init; }
    public DateOnly? BornOn { get; init; }
    public string? MotherFamilyName { get; init; }
    public string? Reason { get; init; }
    public string? Words { get; init; }
}

/// <summary>What became of a try. A wrong detail, an unknown number, two that match and one try too many are the same answer.</summary>
public enum GlassAnswer
{
    Opened,
    NotFilledIn,
    NothingOpened,
}

/// <summary>
/// Opens the record of one child to somebody it is not shown to: they say who it is by three things at once and why, it closes by itself,
/// and the coordinators are told. Whoever guesses learns nothing: every refusal is alike, costs the same statements, is in the trail, and
/// only so many are looked at in a day.
/// </summary>
public sealed class BreakGlass(
    NpgsqlDataSource source, RegistryDb db, Viewer viewer, PolicyStore policies, ProgramClock days, TimeProvider clock, AuditActs audit,
    IServiceProvider services)
{
    public const string WordsColumn = "opened_glasses.words";
    public const int LongestWords = 500;

    private static readonly string FindSql = EmbeddedSql.Of<BreakGlass>("FindChild");

    /// <summary>How long a refused try counts.</summary>
    public static readonly TimeSpan TriesCountFor = TimeSpan.FromHours(24);

    /// <returns>The infant that is open now, where it is.</returns>
    public async Task<(GlassAnswer Answer, InfantId? Infant)> RunAsync(GlassForm form, CancellationToken ct)
    {
        var (number, mother) = (form.Number?.Trim() ?? "", NormaliseName.Of(form.MotherFamilyName) ?? "");
        if (number.Length is 0 or > 100 || mother.Length is 0 or > 200 || form.BornOn is not { } born
            || !Codes.TryParse<GlassReason>(form.Reason, out var reason)
            || form.Words?.Trim() is not { Length: > 0 and <= LongestWords } words
            || viewer is not { PersonId: { } person, Role: { } role }) return (GlassAnswer.NotFilledIn, null);
        var policy = await policies.InForceAsync(days.Today, ct);

        // One try of a person after the other: a thousand at once are not a thousand first ones.
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);
        await AdvisoryLock.ForTransactionAsync(connection, LockedThing.GlassTry, person.ToString(), ct);
        var refused = await RefusedAsync(connection, person, ct);
        var found = await FindAsync(connection, number, born, mother, ct);
        if (refused >= policy.GlassTries || found is not [var infant])
        {
            await audit.RecordAsync(AccessKind.GlassRefused);
            if (refused + 1 == policy.GlassTries)
                services.GetService<IBackgroundJobClient>()?.Enqueue<TellOfGlasses>(j => j.TriesAsync(person, CancellationToken.None));
            return (GlassAnswer.NothingOpened, null);
        }

        if (await db.VisibleInfants(viewer).AnyAsync(i => i.Id == infant, ct)) return (GlassAnswer.Opened, infant);
        var glass = new OpenedGlass
        {
            Id = Guid.CreateVersion7(),
            InfantId = infant,
            PersonId = person,
            Role = role,
            SiteId = viewer.SiteId,
            Reason = reason,
            Words = FieldKeys.OfProcess.Encrypt(words, WordsColumn)!,
            OpenedAt = clock.GetUtcNow(),
            EndsAt = clock.GetUtcNow().AddHours(policy.GlassHours),
        };
        await audit.RecordAsync(AccessKind.GlassBroken, glass.Id, Codes.Of(reason), infant: infant); // what is not recorded does not open
        db.OpenedGlasses.Add(glass);
        await db.SaveChangesAsync(ct);
        await transaction.CommitAsync(ct);
        services.GetService<IBackgroundJobClient>()?.Enqueue<TellOfGlasses>(j => j.RunAsync(CancellationToken.None));
        return (GlassAnswer.Opened, infant);
    }

    private async Task<long> RefusedAsync(NpgsqlConnection connection, Guid person, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(
            "select count(*) from access_records where kind = 'glass_refused' and person_id = $1 and at > $2", connection);
        command.Parameters.AddWithValue(person);
        command.Parameters.AddWithValue(clock.GetUtcNow() - TriesCountFor);
        return (long)(await command.ExecuteScalarAsync(ct))!;
    }

    private static async Task<IReadOnlyList<InfantId>> FindAsync(
        NpgsqlConnection connection, string number, DateOnly born, string mother, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(FindSql, connection);
        command.Parameters.AddWithValue("number", number);
        command.Parameters.AddWithValue("born", born);
        command.Parameters.AddWithValue("mother", NpgsqlDbType.Text, mother);
        await using var reader = await command.ExecuteReaderAsync(ct);
        var found = new List<InfantId>();
        while (await reader.ReadAsync(ct)) found.Add(new(reader.GetGuid(0)));
        return found;
    }
}
