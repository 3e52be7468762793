using Npgsql;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>A test of one ear, where it was made, and when word of it came.</summary>
/// <param name="Instrument">Empty when it was not reported.</param>
public sealed record ReceivedTest(Guid Id, SiteId SiteId, string Instrument, TestReceipt Receipt);

/// <summary>Reads how long tests of the birth admission took from test to receipt (<see cref="DescribeDelays"/>).</summary>
public sealed class MeasureDelays(NpgsqlDataSource source)
{
    private static readonly string Sql = EmbeddedSql.Of<MeasureDelays>();

    /// <summary>What a list of tests may be asked to show, by the name in the URL.</summary>
    public static readonly string[] Shows = ["late", "burst"];

    public async Task<IReadOnlyList<ReceivedTest>> RunAsync(ScreensAsked asked, CancellationToken ct)
    {
        await using var command = asked.Fill(source.CreateCommand(), Sql, ScreenGrouping.Site);
        await using var r = await command.ExecuteReaderAsync(ct);
        var tests = new List<ReceivedTest>();
        while (await r.ReadAsync(ct))
            tests.Add(new(r.GetGuid(0), new(r.GetGuid(1)), r.GetString(2), new(r.GetDateTime(3), r.GetDateTime(4))));
        return tests;
    }

    /// <summary>The tests behind a number: late ones, or those of bursts.</summary>
    /// <param name="tests">Of one site, or of one of its instruments: bursts are of these together.</param>
    /// <param name="show">One of <see cref="Shows"/>.</param>
    /// <param name="received">Only the burst of this day.</param>
    public static IEnumerable<ReceivedTest> Behind(IReadOnlyCollection<ReceivedTest> tests, string show, DateOnly? received)
    {
        if (show == "late") return tests.Where(t => DescribeDelays.IsLate(t.Receipt));
        var days = DescribeDelays.Bursts(tests.Select(t => t.Receipt)).Select(b => b.ReceivedOn)
            .Where(d => received is null || d == received).ToHashSet();
        return tests.Where(t => days.Contains(t.Receipt.ReceivedDay));
    }

    public static DelayFigures Figures(IEnumerable<ReceivedTest> tests) => DescribeDelays.Of([.. tests.Select(t => t.Receipt)]);
}
