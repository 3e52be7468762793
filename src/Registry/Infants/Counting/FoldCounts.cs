using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Rules.Facts;

namespace Registry.Infants.Counting;

/// <summary>Adds what changed to the sums. One at a time: who folds holds a lock until the transaction ends.</summary>
public static class FoldCounts
{
    /// <summary>So many at a time a transaction is short, and what it sorts fits into memory.</summary>
    public const int AtOnce = 50_000;

    private static readonly string Sql = EmbeddedSql.Read(typeof(FoldCounts), nameof(FoldCounts))
        .Replace("{figures}", ScreenColumns.Each(c => "c." + c), StringComparison.Ordinal)
        .Replace("{places}", string.Join(", ", ScreenColumns.Kept.SelectMany(g => ScreenColumns.Days(g).Select(by =>
            $"('{Codes.Of(by)}', '{Codes.Of(g)}', {ScreenColumns.Unit(g)}, {ScreenColumns.Day(by)})"))), StringComparison.Ordinal)
        .Replace("{sums}", ScreenColumns.Each(c => $"sum({c})::int as {c}"), StringComparison.Ordinal)
        .Replace("{something}", ScreenColumns.Each(c => $"sum({c}) <> 0", " or "), StringComparison.Ordinal)
        .Replace("{put}", StoreCounts.PutSums, StringComparison.Ordinal)
        .Replace("{added}", StoreCounts.AddedToSums, StringComparison.Ordinal)
        .Replace("{nothing}", StoreCounts.IsNothing, StringComparison.Ordinal);

    /// <summary>Everything there is, on the caller's connection and in its transaction.</summary>
    public static async Task AllAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        while (await SomeAsync(connection, AtOnce, ct) == AtOnce)
        {
        }
    }

    /// <summary>On the caller's connection, in its transaction.</summary>
    /// <returns>How many changes went into the sums; fewer than <paramref name="most"/> when none are left.</returns>
    public static async Task<long> SomeAsync(NpgsqlConnection connection, int most, CancellationToken ct)
    {
        await AdvisoryLock.ForTransactionAsync(connection, LockedThing.ScreenCounts, "", ct);
        var folded = 0L;
        List<CountKey> nothing = [];
        await using (var fold = new NpgsqlCommand(Sql, connection) { CommandTimeout = 0 })
        {
            fold.Parameters.AddWithValue(most);
            await using var r = await fold.ExecuteReaderAsync(ct);
            while (await r.ReadAsync(ct))
            {
                folded = r.GetInt64(0);
                if (!r.IsDBNull(1)) nothing.Add(StoreCounts.ReadKey(r, 1));
            }
        }

        await StoreCounts.RemoveSumsAsync(connection, nothing, ct);
        return folded;
    }
}
