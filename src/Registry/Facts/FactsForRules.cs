using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

/// <summary>One infant's facts, ready for the rules.</summary>
public sealed record KnownInfant(InfantId Id, SiteId BirthSiteId, InfantFacts Facts);

/// <summary>Reads the facts of a set of infants as they were known at a moment.</summary>
public static class FactsForRules
{
    private static readonly IReadOnlyList<FactKind> Kinds = [.. FactKinds.All.Where(k => k.IsForRules)];

    private static readonly string Sql = string.Join(
        ";\n", Kinds.Select(k => k.Fill(EmbeddedSql.Read(typeof(FactsForRules), nameof(FactsForRules)))));

    private static readonly InfantFacts Nothing = new() { Birth = default };

    /// <summary>Infants whose birth was not known by then are left out.</summary>
    public static async Task<IReadOnlyList<KnownInfant>> KnownAtAsync(
        NpgsqlConnection connection, IReadOnlyCollection<Guid> infants, DateTimeOffset known, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.Add(new NpgsqlParameter("infants", NpgsqlDbType.Array | NpgsqlDbType.Uuid) { Value = infants.ToArray() });
        command.Parameters.Add(new NpgsqlParameter("known", NpgsqlDbType.TimestampTz) { Value = known.ToUniversalTime() });
        await using var reader = await command.ExecuteReaderAsync(ct);

        // Of each infant what was gathered of each kind. Births come first: who has none is left out.
        var found = new Dictionary<Guid, object?[]>(infants.Count);
        foreach (var (i, kind) in Kinds.Index())
        {
            while (await reader.ReadAsync(ct))
            {
                var id = reader.GetGuid(FactKind.Infant);
                if (!found.TryGetValue(id, out var gathered))
                {
                    if (i > 0) continue;
                    found[id] = gathered = new object?[Kinds.Count];
                }

                gathered[i] = kind.GatherForRules(gathered[i], reader);
            }

            await reader.NextResultAsync(ct);
        }

        return [.. found.Select(f => Known(f.Key, f.Value))];
    }

    private static KnownInfant Known(Guid id, object?[] gathered)
    {
        var facts = Nothing;
        foreach (var (i, ofKind) in gathered.Index())
            if (ofKind is not null) facts = Kinds[i].GiveToRules(facts, ofKind);
        return new(new(id), new(facts.Birth.SiteId!.Value), facts);
    }
}
