using Npgsql;
using Registry.Platform.Data;
using Registry.Rules.Facts;

namespace Registry.Infants.Counting;

/// <summary>Writes and reads counted tests and counts, on the caller's connection and in its transaction.</summary>
internal static class StoreCounts
{
    /// <summary>In the order in which <see cref="ReadTest"/> reads and <see cref="Write(NpgsqlBinaryImporter, CountedTest)"/> writes
    /// them.</summary>
    internal const string TestColumns =
        """
        screening_id, infant_id, site_id, known_from, known_until, born_on, first_on, ear, method, outcome, reason, performed_at,
        instrument, probe, screener, age_hours, early, in_nicu, gestation_weeks, received_at, is_first, decides,
        in_first_session, is_first_valid
        """;

    internal const int InfantColumn = 1;

    private static readonly string CountColumns =
        $"counted_by, grouping, site_id, unit, day, changed_on, {string.Join(", ", ScreenFigures.Columns)}";

    public static async Task RemoveAsync(NpgsqlConnection connection, IReadOnlyCollection<CountedTest> tests, CancellationToken ct)
    {
        if (tests.Count == 0) return;
        await using var delete = new NpgsqlCommand(
            "delete from counted_tests t using unnest($1, $2) g (id, known_from) "
                + "where t.screening_id = g.id and t.known_from = g.known_from",
            connection);
        delete.Parameters.AddWithValue(tests.Select(t => t.ScreeningId).ToArray());
        delete.Parameters.AddWithValue(tests.Select(t => t.KnownFrom).ToArray());
        await delete.ExecuteNonQueryAsync(ct);
    }

    public static Task AddAsync(NpgsqlConnection connection, IReadOnlyCollection<CountedTest> tests, CancellationToken ct) =>
        CopyRows.RunAsync(connection, $"copy counted_tests ({TestColumns}) from stdin (format binary)", tests, Write, ct);

    /// <summary>Adds to what is counted: rows add up, so that two who count at once need not wait for each other.</summary>
    public static Task AddAsync(NpgsqlConnection connection, CountTests counts, CancellationToken ct) =>
        CopyRows.RunAsync(connection, $"copy screen_counts ({CountColumns}) from stdin (format binary)", counts.Counts, Write, ct);

    public static CountedTest ReadTest(NpgsqlDataReader r) => new()
    {
        ScreeningId = r.GetGuid(0),
        InfantId = new(r.GetGuid(1)),
        SiteId = new(r.GetGuid(2)),
        KnownFrom = r.Date(3),
        KnownUntil = r.ValueOrNull<DateOnly>(4),
        BornOn = r.Date(5),
        FirstOn = r.Date(6),
        Ear = r.Code<Ear>(7),
        Method = r.Code<ScreeningMethod>(8),
        Outcome = r.Code<ScreeningOutcome>(9),
        Reason = r.Code<ScreeningReason>(10),
        PerformedAt = r.GetDateTime(11),
        Instrument = r.TextOrNull(12),
        Probe = r.TextOrNull(13),
        Screener = r.TextOrNull(14),
        AgeHours = r.ValueOrNull<double>(15),
        Early = r.ValueOrNull<bool>(16),
        InNicu = r.GetBoolean(17),
        GestationWeeks = r.ValueOrNull<int>(18),
        ReceivedAt = r.GetDateTime(19),
        IsFirst = r.GetBoolean(20),
        Decides = r.GetBoolean(21),
        InFirstSession = r.GetBoolean(22),
        IsFirstValid = r.GetBoolean(23),
    };

    /// <summary>The place a sum belongs to; its figures follow.</summary>
    public static CountKey ReadKey(NpgsqlDataReader r) => new(
        r.Code<CountedDay>(0), r.Code<ScreenGrouping>(1), new(r.GetGuid(2)), r.GetString(3), r.Date(4), r.ValueOrNull<DateOnly>(5));

    public static int[] ReadFigures(NpgsqlDataReader r) => [.. ScreenFigures.Columns.Select((_, i) => r.GetInt32(6 + i))];

    private static void Write(NpgsqlBinaryImporter row, CountedTest test)
    {
        row.Id(test.ScreeningId);
        row.Id(test.InfantId.Value);
        row.Id(test.SiteId.Value);
        row.Date(test.KnownFrom);
        row.Date(test.KnownUntil);
        row.Date(test.BornOn);
        row.Date(test.FirstOn);
        row.Code(test.Ear);
        row.Code(test.Method);
        row.Code(test.Outcome);
        row.Code(test.Reason);
        row.LocalTime(test.PerformedAt);
        row.Text(test.Instrument);
        row.Text(test.Probe);
        row.Text(test.Screener);
        row.Number(test.AgeHours);
        row.Bool(test.Early);
        row.Bool(test.InNicu);
        row.Number(test.GestationWeeks);
        row.LocalTime(test.ReceivedAt);
        row.Bool(test.IsFirst);
        row.Bool(test.Decides);
        row.Bool(test.InFirstSession);
        row.Bool(test.IsFirstValid);
    }

    private static void Write(NpgsqlBinaryImporter row, KeyValuePair<CountKey, int[]> count)
    {
        row.Code(count.Key.CountedBy);
        row.Code(count.Key.Grouping);
        row.Id(count.Key.SiteId.Value);
        row.Text(count.Key.Unit);
        row.Date(count.Key.Day);
        row.Date(count.Key.ChangedOn);
        foreach (var figure in count.Value) row.Number(figure);
    }
}
