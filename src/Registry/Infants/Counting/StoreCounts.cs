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

    internal const string PlaceColumns =
        "site_id, changed_on, tested_on, born_on, instrument, probe, screener, method, age, hour, received";

    private const int PlaceWidth = 11, KeyWidth = 6;

    private static readonly string Figures = ScreenColumns.Each(c => c);

    /// <summary>The beginning and the end of a statement that adds to the sums.</summary>
    internal static readonly string PutSums =
        $"insert into screen_counts as c (counted_by, grouping, site_id, unit, day, changed_on, {Figures})";

    internal static readonly string AddedToSums = "on conflict (counted_by, grouping, changed_on, site_id, day, unit) do update set "
        + ScreenColumns.Each(c => $"{c} = c.{c} + excluded.{c}");

    /// <summary>A sum that came to nothing: it goes, and with it the day and the name it stood under.</summary>
    internal static readonly string IsNothing = ScreenColumns.Each(c => $"{c} = 0", " and ");

    private static readonly string RemoveSumsSql =
        $"""
        delete from screen_counts c using unnest($1, $2, $3, $4, $5, $6) g (counted_by, grouping, site_id, unit, day, changed_on)
         where c.counted_by = g.counted_by and c.grouping = g.grouping and c.site_id = g.site_id and c.unit = g.unit and c.day = g.day
           and c.changed_on is not distinct from g.changed_on and {IsNothing}
        """;

    private static readonly string PutSumsSql = $"{PutSums} select * from unnest("
        + string.Join(", ", Enumerable.Range(1, KeyWidth + ScreenColumns.Figures.Length).Select(i => $"${i}")) + $") {AddedToSums}";

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

    /// <summary>Adds to what is counted; two who count at once need not wait for each other.</summary>
    public static Task AddAsync(NpgsqlConnection connection, CountTests counts, CancellationToken ct) =>
        CopyRows.RunAsync(
            connection, $"copy count_changes ({PlaceColumns}, {Figures}) from stdin (format binary)", counts.Changes, Write, ct);

    /// <summary>Adds to the sums themselves; the caller holds their lock.</summary>
    public static async Task AddToSumsAsync(
        NpgsqlConnection connection, IReadOnlyList<KeyValuePair<CountKey, int[]>> sums, CancellationToken ct)
    {
        if (sums.Count == 0) return;
        await using var command = new NpgsqlCommand(PutSumsSql, connection);
        AddKeys(command, [.. sums.Select(s => s.Key)]);
        for (var i = 0; i < ScreenColumns.Figures.Length; i++)
            command.Parameters.AddWithValue(sums.Select(s => s.Value[i]).ToArray());
        await command.ExecuteNonQueryAsync(ct);
        await RemoveSumsAsync(connection, [.. sums.Select(s => s.Key)], ct);
    }

    /// <summary>Removes those that came to nothing.</summary>
    public static async Task RemoveSumsAsync(NpgsqlConnection connection, IReadOnlyList<CountKey> sums, CancellationToken ct)
    {
        if (sums.Count == 0) return;
        await using var command = new NpgsqlCommand(RemoveSumsSql, connection);
        AddKeys(command, sums);
        await command.ExecuteNonQueryAsync(ct);
    }

    private static void AddKeys(NpgsqlCommand command, IReadOnlyList<CountKey> keys)
    {
        var p = command.Parameters;
        p.AddWithValue(keys.Select(k => Codes.Of(k.CountedBy)).ToArray());
        p.AddWithValue(keys.Select(k => Codes.Of(k.Grouping)).ToArray());
        p.AddWithValue(keys.Select(k => k.SiteId.Value).ToArray());
        p.AddWithValue(keys.Select(k => k.Unit).ToArray());
        p.AddWithValue(keys.Select(k => k.Day).ToArray());
        p.AddWithValue(keys.Select(k => k.ChangedOn).ToArray());
    }

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

    /// <summary>The place a sum belongs to, from a column on.</summary>
    public static CountKey ReadKey(NpgsqlDataReader r, int at = 0) => new(
        r.Code<SumDay>(at), r.Code<ScreenGrouping>(at + 1), new(r.GetGuid(at + 2)), r.GetString(at + 3), r.Date(at + 4),
        r.ValueOrNull<DateOnly>(at + 5));

    /// <summary>The figures after <see cref="ReadKey"/>.</summary>
    public static int[] ReadSum(NpgsqlDataReader r) => ReadFigures(r, KeyWidth);

    /// <summary>A change, as it stands in <c>count_changes</c>.</summary>
    public static (CountPlace Place, int[] Figures) ReadChange(NpgsqlDataReader r) => (
        new(new(r.GetGuid(0)), r.Date(1), r.Date(2), r.Date(3), r.GetString(4), r.GetString(5), r.GetString(6), r.GetString(7),
            r.GetString(8), r.GetString(9), r.GetString(10)),
        ReadFigures(r, PlaceWidth));

    private static int[] ReadFigures(NpgsqlDataReader r, int at) => [.. ScreenColumns.Figures.Select((_, i) => r.GetInt32(at + i))];

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

    private static void Write(NpgsqlBinaryImporter row, KeyValuePair<CountPlace, int[]> change)
    {
        var place = change.Key;
        row.Id(place.SiteId.Value);
        row.Date(place.ChangedOn);
        row.Date(place.TestedOn);
        row.Date(place.BornOn);
        row.Text(place.Instrument);
        row.Text(place.Probe);
        row.Text(place.Screener);
        row.Text(place.Method);
        row.Text(place.Age);
        row.Text(place.Hour);
        row.Text(place.Received);
        foreach (var figure in change.Value) row.Number(figure);
    }
}
