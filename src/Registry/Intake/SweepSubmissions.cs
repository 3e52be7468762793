using Npgsql;

namespace Registry.Intake;

/// <summary>
/// The backstop behind the nudges: finishes submissions whose worker died and applies waiting rows that a crash, or two
/// submissions at the same moment, left behind; and bulk decisions. Changes nothing when there is nothing to do.
/// </summary>
public sealed class SweepSubmissions(NpgsqlDataSource source, ProcessSubmission process, RetryHeldRows retry, DecideTogether together)
{
    /// <summary>As a job.</summary>
    public async Task<string> RunAsJobAsync(CancellationToken ct)
    {
        var (submissions, rows) = await RunAsync(ct);
        return $"{submissions} submissions finished, {rows} waiting rows settled";
    }

    /// <returns>How many submissions were finished and how many waiting rows were settled.</returns>
    public async Task<(int Submissions, int Rows)> RunAsync(CancellationToken ct)
    {
        var left = new List<Guid>();
        await using (var select = source.CreateCommand("select id from submissions where state in ('received', 'processing') order by received_at, id"))
        {
            await using var reader = await select.ExecuteReaderAsync(ct);
            while (await reader.ReadAsync(ct)) left.Add(reader.GetGuid(0));
        }

        var finished = 0;
        foreach (var id in left)
            if (await process.RunAsync(id, ct)) finished++;
        var settled = await retry.ForAllAsync(ct);
        await together.RunAllAsync(ct);
        return (finished, settled);
    }
}
