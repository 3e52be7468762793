using Npgsql;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;

namespace Registry.Intake.Typing;

/// <summary>An infant on the ward list.</summary>
/// <param name="Hours">Its age in whole hours; null when the time of birth was not reported.</param>
/// <param name="OaeFrom">When an OAE test is no longer called early; null when that has passed, or is not known.</param>
/// <param name="AbrFrom">The same for ABR.</param>
public sealed record WardRow(
    InfantId Id, DateOnly BornOn, string Name, string Mother, string? RecordNumber, ScreeningConclusion Screening, bool Discharged,
    int? Hours, DateTime? OaeFrom, DateTime? AbrFrom);

/// <summary>The ward list, and how long ago the oldest on it who was not discharged may be born.</summary>
/// <param name="IsCut">There are more than are shown.</param>
public sealed record WardList(IReadOnlyList<WardRow> Rows, bool IsCut, int LyingDays);

/// <summary>
/// Whom a site still has to screen, for a person of that site. Who lies there stays on it while the policy believes a stay without its end;
/// of those discharged, older ones than <see cref="Days"/> are the follow-up list's, which is our own choice: the month in which the
/// policy wants a screen to be done.
/// </summary>
public sealed class ListWard(ViewerDatabase data, PolicyStore policies, ProgramClock clock)
{
    public const int Days = 31;

    /// <summary>More than a ward has: the rest is the follow-up list's.</summary>
    public const int Most = 200;

    private static readonly string Sql = EmbeddedSql.Of<ListWard>()
        .Replace("{visible}", Visibility.Where("s.infant_id"), StringComparison.Ordinal);

    public async Task<WardList> OfAsync(Viewer viewer, CancellationToken ct)
    {
        var policy = await policies.InForceAsync(clock.Today, ct);
        var lying = Math.Max(Days, policy.InpatientDays);
        if (viewer.SiteId is not { } site) return new([], false, lying);
        var now = TimeZoneInfo.ConvertTime(clock.Now, clock.Zone).DateTime;
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = new NpgsqlCommand(Sql, connection);
        Visibility.Bind(command, viewer);
        command.Parameters.AddWithValue("site", site.Value);
        command.Parameters.AddWithValue("from", clock.Today.AddDays(-Days));
        command.Parameters.AddWithValue("lying_from", clock.Today.AddDays(-lying));
        command.Parameters.AddWithValue("most", Most + 1);
        var rows = new List<WardRow>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            var born = r.ValueOrNull<TimeOnly>(2) is { } at ? r.Date(1).ToDateTime(at) : (DateTime?)null;
            var (child, mother) = ($"{r.TextOrNull(3)} {r.TextOrNull(4)}", $"{r.TextOrNull(6)}, {r.TextOrNull(5)}");
            rows.Add(new(
                new(r.GetGuid(0)), r.Date(1), child.Trim(), mother.Trim(' ', ','), r.TextOrNull(7), r.Code<ScreeningConclusion>(8),
                r.GetBoolean(9), born is { } b ? (int)(now - b).TotalHours : null, After(born, policy.EarliestOaeHours),
                After(born, policy.EarliestAbrHours)));
        }

        return new([.. rows.Take(Most)], rows.Count > Most, lying);

        DateTime? After(DateTime? birth, int hours) => birth is { } b && b.AddHours(hours) is var from && from > now ? from : null;
    }
}
