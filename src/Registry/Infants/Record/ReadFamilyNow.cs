using Npgsql;
using Registry.Access;
using Registry.Facts;
using Registry.Records;

namespace Registry.Infants.Record;

/// <summary>Reads the family of one infant as it is now, for a viewer who may see it. The page records the read.</summary>
public static class ReadFamilyNow
{
    private static readonly HashSet<RowKind> Kinds = [RowKind.Birth, RowKind.FamilyContact, RowKind.Care];

    public static async Task<FamilyNow> OfAsync(ViewerDatabase data, Viewer viewer, InfantId infant, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        return (await OfAsync(connection, [infant], ct)).GetValueOrDefault(infant) ?? FamilyNow.Of([]);
    }

    /// <param name="connection">It sees what the viewer may see.</param>
    /// <param name="infants">A page of them.</param>
    /// <param name="ct">Cancels.</param>
    public static async Task<IReadOnlyDictionary<InfantId, FamilyNow>> OfAsync(
        NpgsqlConnection connection, IReadOnlyCollection<InfantId> infants, CancellationToken ct)
    {
        var recorded = await RecordedFacts.LoadAsync(connection, [.. infants.Select(i => i.Value)], Kinds, ct);
        return infants.ToDictionary(i => i, i => FamilyNow.Of(
            recorded.Of(i.Value).OrderBy(f => f.RowNumber).Select(f => (f.Fact, f.RecordedAt))));
    }
}
