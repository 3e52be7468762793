using System.Globalization;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Infants.Record;

/// <summary>An opening of a clinic with places left.</summary>
public sealed record OfferedOpening(
    Guid Id, string SiteCode, string Site, PathStep Step, DateOnly OpensOn, TimeOnly StartsAt, int Minutes, int Free)
{
    /// <summary>"Dec 3, 2026, 10:30, for the diagnosis, 2 free".</summary>
    public string Words => $"{Ui.Words.Date(OpensOn)}, {StartsAt.ToString("HH:mm", CultureInfo.InvariantCulture)}, "
        + $"{Ui.Words.Within(Ui.Words.Of((Enum)Step))}, {Free} free";
}

/// <summary>Offers what clinics have open, and takes a place of one for an appointment. One that has begun, is withdrawn or full is not
/// offered.</summary>
public sealed class OfferOpenings(RegistryDb db, ProgramClock clock)
{
    private const int OfEachClinic = 8, Most = 80;

    private const string Ahead = "s.active and o.withdrawn_at is null and (o.opens_on, o.starts_at) > (@day, @time)";

    private static readonly string Sql = EmbeddedSql.Of<OfferOpenings>();

    public Task<IReadOnlyList<OfferedOpening>> AheadAsync(CancellationToken ct) => ReadAsync(Ahead, null, ct);

    /// <summary>Takes a place within the caller's transaction.</summary>
    /// <returns>Null when no place is left, or it is offered no more.</returns>
    internal async Task<OfferedOpening?> TakeAsync(Guid opening, CancellationToken ct)
    {
        await LockAsync(opening, ct);
        return (await ReadAsync($"{Ahead} and o.id = @opening", opening, ct)).SingleOrDefault();
    }

    /// <summary>Whether what some facts ended may stand again once they are taken back: it was in no opening, or there a place is
    /// left.</summary>
    internal async Task<bool> HavePlaceAgainAsync(IReadOnlyList<AppointmentRecord> facts, CancellationToken ct)
    {
        var ids = facts.Select(f => f.Id).ToList();
        // Who came, or did not, kept the place.
        foreach (var fact in facts.Where(f => f.Kind is not (AppointmentEvent.Kept or AppointmentEvent.NoShow)))
        {
            var opening = await (
                from k in db.BookedOpenings
                join a in db.Appointments on k.AppointmentId equals a.Id
                where a.InfantId == fact.InfantId && a.Step == fact.Step && a.AppointmentOn == fact.AppointmentOn
                    && a.SupersededAt == null && !ids.Contains(a.Id)
                orderby a.RecordedAt descending, a.Id descending
                select (Guid?)k.OpeningId).FirstOrDefaultAsync(ct);
            if (opening is not { } id) continue;
            await LockAsync(id, ct);
            if ((await ReadAsync("o.id = @opening", id, ct)).Count == 0) return false;
        }

        return true;
    }

    /// <summary>Whoever asks for the same opening waits, and then counts what was taken.</summary>
    private Task<int> LockAsync(Guid opening, CancellationToken ct) =>
        db.Database.ExecuteSqlAsync($"select from clinic_openings where id = {opening} for no key update", ct);

    private async Task<IReadOnlyList<OfferedOpening>> ReadAsync(string where, Guid? opening, CancellationToken ct)
    {
        var now = TimeZoneInfo.ConvertTime(clock.Now, clock.Zone);
        await db.Database.OpenConnectionAsync(ct);
        await using var command = new NpgsqlCommand(
            Sql.Replace("{where}", where, StringComparison.Ordinal), (NpgsqlConnection)db.Database.GetDbConnection());
        command.Parameters.AddWithValue("day", clock.Today);
        command.Parameters.AddWithValue("time", TimeOnly.FromDateTime(now.DateTime));
        command.Parameters.AddWithValue("of_each", OfEachClinic);
        command.Parameters.AddWithValue("most", Most);
        if (opening is { } id) command.Parameters.AddWithValue("opening", id);
        var found = new List<OfferedOpening>();
        await using (var r = await command.ExecuteReaderAsync(ct))
            while (await r.ReadAsync(ct))
                found.Add(new(r.GetGuid(0), r.GetString(1), r.GetString(2), r.Code<PathStep>(3), r.Date(4), r.GetFieldValue<TimeOnly>(5),
                    r.GetInt32(6), r.GetInt32(7)));
        await db.Database.CloseConnectionAsync();
        return found;
    }
}
