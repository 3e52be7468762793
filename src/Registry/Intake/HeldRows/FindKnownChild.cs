using Npgsql;
using Registry.Intake.Applying;
using Registry.Intake.Rows;
using Registry.Matching;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.HeldRows;

/// <summary>Whether the registry knows the child of a held birth already, so that a new infant would be its second record: by the record
/// number or card, or since every detail of an infant agrees (two births of one child that waited for one cause).</summary>
internal static class FindKnownChild
{
    /// <param name="connection">In a decision its transaction, after the infant was made: nobody can make the other one meanwhile.</param>
    /// <param name="row">The birth as it is kept.</param>
    /// <param name="made">The infant just made of it.</param>
    /// <param name="clock">Today.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>How it is known; null when it is not.</returns>
    public static async Task<WhyRefused?> ForAsync(
        NpgsqlConnection connection, HeldContent row, IReadOnlyCollection<Guid> made, ProgramClock clock, CancellationToken ct)
    {
        if (await OthersCarryAsync(connection, row.SiteId, RowContent.Fields(row.Content), made, ct)) return WhyRefused.IdentifierKnown;
        var sites = await KnownSites.ReadAsync(connection, ct);
        if (row.ToApply(clock, sites, clock.Now, out _) is not { } birth) return null;
        var byDetails = birth.Stated with { RecordNumber = null, CardId = null };
        var known = await KnownInfants.LoadAsync(connection, [byDetails], [], clock.Today, ct);
        return known.FitFully(byDetails).Except(made).Any() ? WhyRefused.InfantKnown : null;
    }

    private static async Task<bool> OthersCarryAsync(
        NpgsqlConnection connection, SiteId site, IReadOnlyDictionary<Field, string> stated, IReadOnlyCollection<Guid> made,
        CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(EmbeddedSql.Read(typeof(FindKnownChild), nameof(FindKnownChild)), connection);
        command.Parameters.AddWithValue(made.ToArray());
        command.Parameters.AddWithValue(site.Value);
        command.Parameters.AddNullable(stated.GetValueOrDefault(Field.RecordNumber), NpgsqlTypes.NpgsqlDbType.Text);
        command.Parameters.AddNullable(stated.GetValueOrDefault(Field.CardId), NpgsqlTypes.NpgsqlDbType.Text);
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }
}
