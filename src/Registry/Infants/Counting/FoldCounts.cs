using Npgsql;
using Registry.Platform;

namespace Registry.Infants.Counting;

/// <summary>Puts rows of one group together; what adds up to nothing is gone, and with it the days and names it stood under.</summary>
public static class FoldCounts
{
    private static readonly string Sql = EmbeddedSql.Read(typeof(FoldCounts), nameof(FoldCounts))
        .Replace("{columns}", string.Join(", ", ScreenFigures.Columns), StringComparison.Ordinal)
        .Replace("{sums}", string.Join(", ", ScreenFigures.Columns.Select(c => $"sum({c})::int")), StringComparison.Ordinal)
        .Replace("{something}", string.Join(" or ", ScreenFigures.Columns.Select(c => $"sum({c}) <> 0")), StringComparison.Ordinal);

    /// <summary>On the caller's connection, in its transaction if it has one.</summary>
    /// <returns>How many rows went into others.</returns>
    public static async Task<long> RunAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(Sql, connection) { CommandTimeout = 0 };
        return (long)(await command.ExecuteScalarAsync(ct))!;
    }
}
