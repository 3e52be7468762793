using System.Collections.Concurrent;
using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.Infants.Counting;

/// <summary>Reads what was ever said of some infants, and the policies their tests were counted under.</summary>
internal static class ReadHistory
{
    private static readonly string Sql = EmbeddedSql.Read(typeof(ReadHistory), nameof(ReadHistory))
        .Replace("{columns}", StoreCounts.TestColumns, StringComparison.Ordinal);

    /// <summary>Policy documents are written once: the text is the policy.</summary>
    private static readonly ConcurrentDictionary<string, Policy> Read = new();

    /// <returns>The infants something was said of, and the policies in force up to the last, oldest first.</returns>
    public static async Task<(IReadOnlyCollection<ToldFacts> Infants, IReadOnlyList<Policy> Policies)> OfAsync(
        NpgsqlConnection connection, Guid[] infants, TimeZoneInfo zone, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.AddWithValue("infants", infants);
        await using var r = await command.ExecuteReaderAsync(ct);
        var told = new Dictionary<Guid, ToldFacts>(infants.Length);
        ToldFacts Of(int column) => told.TryGetValue(r.GetGuid(column), out var known) ? known
            : told[r.GetGuid(column)] = new(new(r.GetGuid(column)));

        while (await r.ReadAsync(ct)) Of(0).Births.Add((HeldOf(r), BirthOf(r)));
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct)) Of(0).Transfers.Add((HeldOf(r), new(r.Date(3), r.GetGuid(4))));
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct)) Of(0).Tests.Add(TestOf(r));
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct)) Of(StoreCounts.InfantColumn).Stored.Add(StoreCounts.ReadTest(r));
        await r.NextResultAsync(ct);
        var policies = new List<Policy>();
        while (await r.ReadAsync(ct)) policies.Add(Read.GetOrAdd(r.GetString(0), Policy.FromJson) with { Zone = zone });
        return (told.Values, policies);
    }

    private static Held HeldOf(NpgsqlDataReader r) => new(r.Moment(1), r.ValueOrNull<DateTimeOffset>(2));

    private static Birth BirthOf(NpgsqlDataReader r) => new(r.Date(5), r.ValueOrNull<TimeOnly>(6))
    {
        Place = r.Code<BirthPlace>(7),
        SiteId = r.GetGuid(4),
        GestationWeeks = r.ValueOrNull<int>(8),
        NicuAdmittedOn = r.ValueOrNull<DateOnly>(9),
        NicuDischargedOn = r.ValueOrNull<DateOnly>(10),
        DischargedOn = r.ValueOrNull<DateOnly>(11),
    };

    private static ToldTest TestOf(NpgsqlDataReader r) => new(
        HeldOf(r), r.GetGuid(3), new SiteId(r.GetGuid(4)),
        new(r.Code<Ear>(5), r.Code<ScreeningOutcome>(7), r.GetDateTime(10))
        {
            Method = r.Code<ScreeningMethod>(6),
            Reason = r.Code<ScreeningReason>(8),
            Stage = r.Code<ScreeningStage>(9),
            SiteId = r.GetGuid(4),
        },
        r.TextOrNull(11), r.TextOrNull(12), r.TextOrNull(13), r.Moment(14));
}
