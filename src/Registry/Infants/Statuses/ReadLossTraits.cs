using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Rules.Chance;

namespace Registry.Infants.Statuses;

/// <summary>What was recorded at the births of some infants and may go with being lost, as it was known on a day.</summary>
public sealed class ReadLossTraits
{
    private static readonly string Sql = EmbeddedSql.Read(typeof(ReadLossTraits), "LossTraits");

    private readonly Dictionary<Guid, List<(DateOnly Since, LossTraits Traits)>> _versions = [];

    private ReadLossTraits()
    {
    }

    public static async Task<ReadLossTraits> OfAsync(NpgsqlConnection connection, Guid[] infants, CancellationToken ct)
    {
        var read = new ReadLossTraits();
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.AddWithValue("infants", infants);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            if (!read._versions.TryGetValue(r.GetGuid(0), out var versions)) read._versions[r.GetGuid(0)] = versions = [];
            versions.Add((DateOnly.FromDateTime(r.Moment(1).UtcDateTime),
                new(r.GetString(2), r.TextOrNull(3), r.TextOrNull(4), r.TextOrNull(5), r.TextOrNull(6), r.GetBoolean(7))
                {
                    RaceEthnicity = r.TextOrNull(8),
                }));
        }

        return read;
    }

    /// <summary>As known on a day. A birth that was not recorded yet counts as it was recorded first: what was corrected later, by a family
    /// that was found again, must not tell of the days before.</summary>
    /// <returns>Null for an infant without a birth.</returns>
    public LossTraits? On(Guid infant, DateOnly day) => !_versions.TryGetValue(infant, out var versions) ? null
        : (versions.FindLast(v => v.Since <= day) is { Traits: { } known } ? known : versions[0].Traits);
}
