using Microsoft.EntityFrameworkCore;
using Registry.Platform;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Quality;

namespace Registry.SiteQuality.Equipment;

/// <summary>An instrument or a probe whose calibration is due soon or over.</summary>
public sealed record DueCalibration(SiteId Site, QualityUnitKind Unit, string Name, DateOnly Last, DateOnly DueOn);

/// <summary>Reads what happened to equipment: of a site, as marks on a chart, and what is due.</summary>
public sealed class ListEvents(RegistryDb db, ProgramClock clock)
{
    /// <summary>Reminded so long before. Own choice.</summary>
    public const int RemindDays = 30;

    /// <summary>What was known of a site at the end of a day and not taken back by then, the newest first.</summary>
    public async Task<List<EquipmentEvent>> OfSiteAsync(SiteId site, DateOnly asOf, CancellationToken ct)
    {
        var until = clock.EndOf(asOf);
        return await db.EquipmentEvents.AsNoTracking()
            .Where(e => e.SiteId == site && e.RecordedAt <= until && (e.TakenBackAt == null || e.TakenBackAt > until))
            .OrderByDescending(e => e.Day).ThenByDescending(e => e.RecordedAt).ToListAsync(ct);
    }

    /// <summary>Calibrations that are due within some weeks or over, of equipment that is in use at its site. Equipment without a recorded
    /// calibration has no date to be reminded of.</summary>
    public async Task<IReadOnlyList<DueCalibration>> DueAsync(SiteId? site, DateOnly today, Policy policy, CancellationToken ct)
    {
        EquipmentEventKind[] kinds = [EquipmentEventKind.Calibrated, .. Places];
        var events = await db.EquipmentEvents.AsNoTracking()
            .Where(e => e.TakenBackAt == null && kinds.Contains(e.Kind) && (site == null || e.SiteId == site)).ToListAsync(ct);
        return
        [
            .. events.GroupBy(e => (e.SiteId, e.Unit, e.Name)).Where(g => !IsAway(g))
                .Select(g => (g.Key, Last: g.Where(e => e.Kind == EquipmentEventKind.Calibrated).Max(e => (DateOnly?)e.Day)))
                .Where(g => g.Last is { } last && DueOn(last, policy) <= today.AddDays(RemindDays))
                .Select(g => new DueCalibration(g.Key.SiteId, g.Key.Unit, g.Key.Name, g.Last!.Value, DueOn(g.Last.Value, policy)))
                .OrderBy(d => d.DueOn),
        ];
    }

    public static DateOnly DueOn(DateOnly last, Policy policy) => last.AddMonths(policy.CalibrationMonths);

    /// <summary>What says where a unit is.</summary>
    private static readonly EquipmentEventKind[] Places =
    [
        EquipmentEventKind.LentOut, EquipmentEventKind.CameBack, EquipmentEventKind.Borrowed, EquipmentEventKind.GivenBack,
        EquipmentEventKind.Retired,
    ];

    /// <summary>Lent out and not back, given back, or retired.</summary>
    public static bool IsAway(IEnumerable<EquipmentEvent> ofUnit) =>
        ofUnit.Where(e => Places.Contains(e.Kind)).OrderBy(e => e.Day).ThenBy(e => e.RecordedAt).LastOrDefault()
            is { Kind: not (EquipmentEventKind.CameBack or EquipmentEventKind.Borrowed) };

    public static string? Said(EquipmentEvent e) => FieldKeys.OfProcess.Decrypt(e.Words, RecordEvent.WordsColumn);
}
