using System.Globalization;
using Npgsql;
using Registry.Platform.Data;

namespace Registry.Intake.Applying;

/// <summary>
/// Two at once: births of one day take turns, so that one infant is not made twice, and so do writers of one infant. Locks are taken in
/// one order and end with the transaction.
/// </summary>
internal static class LockInfants
{
    /// <summary>Days of birth share so many locks: a file of many years takes no more.</summary>
    private const int Locks = 64;

    /// <summary>The days on which the rows say that infants were born.</summary>
    public static Task BornOnDaysOfAsync(NpgsqlConnection connection, IReadOnlyList<RowToApply> rows, CancellationToken ct)
    {
        var days = rows.Where(r => r.StatesBirth).Select(r => r.Row.Identity.BornOn!.Value.DayNumber % Locks).Distinct().Order();
        return AdvisoryLock.AllForTransactionAsync(
            connection, LockedThing.BirthDay, [.. days.Select(d => d.ToString(CultureInfo.InvariantCulture))], ct);
    }

    /// <summary>Infants the registry holds.</summary>
    public static async Task StoredAsync(NpgsqlConnection connection, Guid[] infants, CancellationToken ct)
    {
        if (infants.Length == 0) return;
        await using var command = new NpgsqlCommand("select from infants where id = any($1) order by id for no key update", connection);
        command.Parameters.AddWithValue(infants);
        await command.ExecuteNonQueryAsync(ct);
    }
}
