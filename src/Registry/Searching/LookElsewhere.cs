using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Searching;

/// <summary>Another record that may be of the same child or of its family.</summary>
public sealed record LikelyInfant(
    InfantId Id, FamilyTie Tie, IReadOnlyList<Agreement> On, DateOnly BornOn, string Child, string Mother, string BirthSite);

/// <summary>A row that waits and may be about the child.</summary>
public sealed record LikelyRow(SubmissionId Submission, int Row, string Site, RowKind Kind, DateTimeOffset HeldAt);

/// <summary>Who had to do with the child, and who is called there.</summary>
public sealed record Seen(SiteContact Site, RowKind Kind, DateOnly On);

/// <summary>Somebody of the family, or who cares for the child, who was reached before.</summary>
public sealed record ReachedBefore(DateOnly On, ContactPerson? Person, ContactChannel? Channel, string? Note);

/// <summary>What the registry itself knows that may lead to a family.</summary>
/// <param name="Rows">Null for whoever does not decide about waiting rows.</param>
public sealed record Elsewhere(
    IReadOnlyList<LikelyInfant> Infants, IReadOnlyList<LikelyRow>? Rows, IReadOnlyList<ContactWay> Ways, IReadOnlyList<Seen> Seen,
    IReadOnlyList<ReachedBefore> Reached, string? Provider);

/// <summary>Looks in the registry for what may lead to the family of an infant: other records of the child and of brothers and sisters,
/// rows that wait, other telephones, who was reached before, and who has seen the child last. Costs what one family costs.</summary>
public sealed class LookElsewhere(ViewerDatabase data, NpgsqlDataSource rows, IOptions<SearchingOptions> options, Viewer viewer)
{
    /// <summary>More of a kind are not shown: so many say that a detail is everybody's.</summary>
    public const int Most = 50;

    private const int MostReached = 10;

    private static readonly string InfantsSql = EmbeddedSql.Of<LookElsewhere>()
        .Replace("{visible}", Visibility.Where("b.infant_id"), StringComparison.Ordinal);
    private static readonly string RowsSql = EmbeddedSql.Of<LookElsewhere>("LookInWaitingRows");
    private static readonly string SeenSql = EmbeddedSql.Of<LookElsewhere>("LastSeen");

    /// <param name="infant">One the viewer was shown.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<Elsewhere> ForAsync(InfantId infant, CancellationToken ct)
    {
        await using var db = await data.OpenDbAsync(viewer, ct);
        var connection = (NpgsqlConnection)db.Database.GetDbConnection();
        var births = await db.Births.AsNoTracking().Where(b => b.InfantId == infant).OrderByDescending(b => b.RecordedAt).ToListAsync(ct);
        var current = births.Find(b => b.SupersededAt is null);
        var likely = current is null ? [] : await InfantsAsync(connection, infant, current, ct);
        var seen = await SeenAsync(connection, infant, ct);
        var sites = await db.WithHeirsAsync(seen.Select(s => s.Site), ct);
        return new(
            likely, viewer.IsCoordinator ? await RowsAsync(infant, ct) : null,
            await ListWays.OfAsync(db, viewer, births, likely.ToDictionary(l => l.Id), options.Value.SharedByMany, ct),
            [.. seen.Select(s => new Seen(SiteContact.Of(sites[s.Site], sites), s.Kind, s.On))],
            await ReachedAsync(db, infant, ct),
            FieldKeys.OfProcess.Decrypt(births.Select(b => b.PostDischargeProvider).FirstOrDefault(p => p is not null),
                "births.post_discharge_provider"));
    }

    private async Task<IReadOnlyList<LikelyInfant>> InfantsAsync(
        NpgsqlConnection connection, InfantId infant, BirthRecord birth, CancellationToken ct)
    {
        var child = new Identity(birth.BornOn, birth.MotherFamilyKey, birth.MotherGivenKey, birth.MotherBornOn, birth.Sex, birth.Plurality,
            birth.BirthOrder);
        await using var command = new NpgsqlCommand(InfantsSql, connection);
        Visibility.Bind(command, viewer);
        command.Parameters.AddWithValue("infant", infant.Value);
        command.Parameters.AddWithValue("most", Most);
        command.Parameters.AddWithValue("most_sharers", options.Value.SharedByMany);
        var found = new List<LikelyInfant>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            var other = new Identity(r.Date(1), r.TextOrNull(2), r.TextOrNull(3), r.ValueOrNull<DateOnly>(4), r.Code<Sex>(5),
                r.ValueOrNull<int>(6), r.ValueOrNull<int>(7));
            if (CompareFamilies.Compare(child, other, r.GetBoolean(13), r.GetBoolean(14)) is not { } tie) continue;
            found.Add(new(new(r.GetGuid(0)), tie.Tie, tie.On, r.Date(1), $"{r.TextOrNull(8)} {r.TextOrNull(9)}".Trim(),
                $"{r.TextOrNull(10)} {r.TextOrNull(11)}".Trim(), r.GetString(12)));
        }

        return [.. found.OrderBy(f => f.Tie).ThenByDescending(f => f.On.Count).ThenByDescending(f => f.BornOn).ThenBy(f => f.Id.Value)];
    }

    /// <remarks>What waits is no fact of an infant: coordinators decide about it, and row security shows it to nobody.</remarks>
    private async Task<IReadOnlyList<LikelyRow>> RowsAsync(InfantId infant, CancellationToken ct)
    {
        await using var command = rows.CreateCommand(RowsSql);
        command.Parameters.AddWithValue("infant", infant.Value);
        command.Parameters.AddWithValue("most", Most);
        var found = new List<LikelyRow>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
            found.Add(new(new(r.GetGuid(0)), r.GetInt32(1), r.GetString(2), r.Code<RowKind>(3), r.Moment(4)));
        return found;
    }

    private static async Task<IReadOnlyList<(SiteId Site, RowKind Kind, DateOnly On)>> SeenAsync(
        NpgsqlConnection connection, InfantId infant, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(SeenSql, connection);
        command.Parameters.AddWithValue("infant", infant.Value);
        var seen = new List<(SiteId, RowKind, DateOnly)>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) seen.Add((new(r.GetGuid(0)), r.Code<RowKind>(1), r.Date(2)));
        return seen;
    }

    private static async Task<IReadOnlyList<ReachedBefore>> ReachedAsync(RegistryDb db, InfantId infant, CancellationToken ct) =>
        [.. (await db.Contacts.AsNoTracking().Where(c => c.InfantId == infant && c.SupersededAt == null
                && (c.Outcome == ContactOutcome.Reached || c.Outcome == ContactOutcome.AppointmentMade))
            .OrderByDescending(c => c.AttemptedOn).ThenByDescending(c => c.RecordedAt).Take(MostReached).ToListAsync(ct))
            .Select(c => new ReachedBefore(c.AttemptedOn, c.Person, c.Channel, FieldKeys.OfProcess.Decrypt(c.Note, "contacts.note")))];
}
