using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>How often a site sends.</summary>
/// <param name="LastDay">The last day something was received, however long ago; null: never.</param>
/// <param name="Days">Days with a submission in the 400 days before: what the rhythm stands on.</param>
/// <param name="TypicalGap">Median days from one such day to the next; null with a single day.</param>
/// <param name="UsualGap">Their 95th percentile.</param>
/// <param name="ExpectedWithin">Days of silence the rhythm allows.</param>
/// <param name="Latest">The latest days with a submission, newest first.</param>
/// <param name="Silence">Days since the last one; null: it never sent.</param>
/// <param name="DaysHere">Days since it was added, or opened if that was later; null: nobody knows.</param>
public sealed record SiteRhythm(
    SiteId Id, string Code, string Name, DateOnly? LastDay, int Days, int? TypicalGap, int? UsualGap, int ExpectedWithin,
    IReadOnlyList<DateOnly> Latest, int? Silence, int? DaysHere)
{
    /// <summary>The days before the as-of day whose sendings make the rhythm.</summary>
    public const int DaysLookedAt = 400;

    /// <summary>It has sent nothing for longer than its own rhythm predicts, or nothing since it was added.</summary>
    public bool IsSilent => (Silence ?? DaysHere) is not { } days || days > ExpectedWithin;
}

/// <summary>Finds sites that fell silent. A silent site looks like a site without problems; its infants look lost.</summary>
public sealed class SilentSites(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock)
{
    private static readonly string Sql = EmbeddedSql.Of<SilentSites>();

    /// <summary>The silent ones, longest silence first.</summary>
    public async Task<IReadOnlyList<SiteRhythm>> FindAsync(DateOnly asOf, CancellationToken ct) =>
        [.. (await RhythmsAsync(asOf, ct)).Where(s => s.IsSilent)];

    /// <summary>Every active site that ever sent, or where infants are born.</summary>
    public async Task<IReadOnlyList<SiteRhythm>> RhythmsAsync(DateOnly asOf, CancellationToken ct)
    {
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddWithValue("known", asOf == clock.Today ? clock.Now : clock.EndOf(asOf));
        command.Parameters.AddWithValue("zone", clock.Zone.Id);
        var policy = await policies.InForceAsync(asOf, ct);
        await using var r = await command.ExecuteReaderAsync(ct);
        var sites = new List<SiteRhythm>();
        while (await r.ReadAsync(ct))
        {
            var (last, days, usual, agreed) = (r.ValueOrNull<DateOnly>(3), r.GetInt32(4), r.ValueOrNull<int>(6), r.ValueOrNull<int>(7));
            sites.Add(new(
                new(r.GetGuid(0)), r.GetString(1), r.GetString(2), last, days, r.ValueOrNull<int>(5), usual,
                JudgeSilence.AllowedDays(days, usual, agreed, policy) ?? JudgeSilence.AllowedWithoutRhythm(agreed),
                r.GetFieldValue<DateOnly[]>(8), asOf.DayNumber - last?.DayNumber, asOf.DayNumber - r.ValueOrNull<DateOnly>(9)?.DayNumber));
        }

        return sites;
    }
}
