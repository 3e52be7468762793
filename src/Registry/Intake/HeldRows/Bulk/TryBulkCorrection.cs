using Npgsql;
using Registry.Intake.Rows;
using Registry.Platform;

namespace Registry.Intake.HeldRows.Bulk;

/// <summary>What a bulk correction would do: rows that state what is to be changed, of them those that then pass the checks, and why others
/// do not.</summary>
public sealed record BulkTrial(int States, int Pass, IReadOnlyList<(string Reason, int Rows)> Problems);

/// <summary>Tries a correction on the rows of a bulk decision. It changes nothing, and does not ask whom the rows are about.</summary>
public sealed class TryBulkCorrection(NpgsqlDataSource source, ReadBulkDecision read, ProgramClock clock)
{
    /// <param name="bulk">The bulk decision.</param>
    /// <param name="column">The column that is corrected.</param>
    /// <param name="from">What a row must state there to be changed: null anything, empty nothing.</param>
    /// <param name="to">What it states then.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<BulkTrial> RunAsync(Guid bulk, Field column, string? from, string to, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        var sites = await KnownSites.ReadAsync(connection, ct);
        var (states, pass) = (0, 0);
        var problems = new Dictionary<string, int>();
        await foreach (var content in read.ContentsAsync(bulk, ct))
        {
            if (BulkCorrection.Change(RowContent.Fields(content.Content), column, from, to) is not { } changed) continue;
            states++;
            var wrong = RewriteRow.Check(content, changed, clock, sites);
            if (wrong.Count == 0) pass++;
            foreach (var problem in wrong.Select(HeldRowWords.Read).Distinct())
                problems[problem] = problems.GetValueOrDefault(problem) + 1;
        }

        return new(states, pass, [.. problems.OrderByDescending(p => p.Value).Select(p => (p.Key, p.Value))]);
    }
}
