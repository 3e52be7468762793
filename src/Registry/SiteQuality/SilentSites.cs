using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Records;

namespace Registry.SiteQuality;

/// <summary>How often a site sends.</summary>
/// <param name="LastDay">The last day something was received, however long ago; null: never.</param>
/// <param name="Days">Days with a submission in the 400 days before: what the rhythm stands on.</param>
/// <param name="TypicalGap">Median days from one such day to the next; null with a single day.</param>
/// <param name="UsualGap">Their 95th percentile.</param>
/// <param name="ExpectedWithin">Days of silence the rhythm allows.</param>
/// <param name="Latest">The latest days with a submission, newest first.</param>
/// <param name="Silence">Days since the last one; null: it never sent.</param>
public sealed record SiteRhythm(
    SiteId Id, string Code, string Name, DateOnly? LastDay, int Days, int? TypicalGap, int? UsualGap, int ExpectedWithin,
    IReadOnlyList<DateOnly> Latest, int? Silence)
{
    /// <summary>Fewer days make no rhythm.</summary>
    public const int FewestDays = 4;

    /// <summary>It has sent nothing for longer than its own rhythm predicts, or never.</summary>
    public bool IsSilent => Silence is not { } days || days > ExpectedWithin;

    /// <summary>What <see cref="ExpectedWithin"/> stands on, in words.</summary>
    public string Grounds => LastDay is null ? "infants are born here, and nothing was ever received"
        : Days < FewestDays
        ? $"only {Ui.Words.Count(Days, "day")} with a submission in 400 days, too few for a rhythm: 30 days are allowed"
        : $"{Ui.Words.Count(Days, "day")} with a submission in 400 days; from one to the next {Ui.Words.Count(TypicalGap ?? 0, "day")} at "
            + $"the median and {Ui.Words.Count(UsualGap ?? 0, "day")} at the 95th percentile; allowed is the larger of a week and twice "
            + "the latter";
}

/// <summary>Finds sites that fell silent. A silent site looks like a site without problems; its infants look lost.</summary>
public sealed class SilentSites(NpgsqlDataSource source, IOptions<ProgramOptions> program)
{
    private static readonly string Sql = EmbeddedSql.Of<SilentSites>();

    /// <summary>The silent ones, longest silence first.</summary>
    public async Task<IReadOnlyList<SiteRhythm>> FindAsync(StatusesAsOf asOf, CancellationToken ct) =>
        [.. (await RhythmsAsync(asOf, ct)).Where(s => s.IsSilent)];

    /// <summary>Every active site that ever sent, or where infants are born.</summary>
    public async Task<IReadOnlyList<SiteRhythm>> RhythmsAsync(StatusesAsOf asOf, CancellationToken ct)
    {
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddWithValue("known", asOf.KnownAt);
        command.Parameters.AddWithValue("zone", program.Value.TimeZone);
        await using var r = await command.ExecuteReaderAsync(ct);
        var sites = new List<SiteRhythm>();
        while (await r.ReadAsync(ct))
        {
            DateOnly? last = r.IsDBNull(3) ? null : r.GetFieldValue<DateOnly>(3);
            sites.Add(new(
                new SiteId(r.GetGuid(0)), r.GetString(1), r.GetString(2), last, r.GetInt32(4), r.IsDBNull(5)
                    ? null : r.GetInt32(5), r.IsDBNull(6) ? null : r.GetInt32(6),
                r.GetInt32(7), r.GetFieldValue<DateOnly[]>(8), asOf.AsOf.DayNumber - last?.DayNumber));
        }

        return sites;
    }
}
