using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Quality;
using Registry.SiteQuality.Equipment;

namespace Registry.Demo;

/// <summary>What people of the region entered of their instruments, probes and screeners; days count back from the anchor day.</summary>
internal static class EquipmentHistory
{
    /// <summary>The probe of story 1 was looked at in vain, then its tip was changed. A spare instrument was lent and came back; one is due
    /// for calibration, another is over; Farrow Point's screeners showed how they test on one day.</summary>
    private static readonly (string Site, QualityUnitKind Unit, string Name, EquipmentEventKind Kind, int DaysAgo, string? Words)[] All =
    [
        (Places.LeakingSite, QualityUnitKind.Probe, Places.LeakingProbe, EquipmentEventKind.Checked, 62, "Cable and plug look sound"),
        (Places.LeakingSite, QualityUnitKind.Probe, Places.LeakingProbe, EquipmentEventKind.TipChanged, Places.MendedDays,
            "Tip was cracked at the rim"),
        (Places.LeakingSite, QualityUnitKind.Instrument, "INS-02-1", EquipmentEventKind.Calibrated, 352, null),
        (Places.LeakingSite, QualityUnitKind.Instrument, "INS-02-2", EquipmentEventKind.Calibrated, 140, null),
        (Places.LeakingSite, QualityUnitKind.Instrument, "INS-02-3", EquipmentEventKind.LentOut, 154, "To Quarry Hill, theirs is repaired"),
        (Places.LeakingSite, QualityUnitKind.Instrument, "INS-02-3", EquipmentEventKind.CameBack, 91, null),
        ("quarry-hill", QualityUnitKind.Instrument, "INS-02-3", EquipmentEventKind.Borrowed, 154, "From Farrow Point"),
        ("quarry-hill", QualityUnitKind.Instrument, "INS-02-3", EquipmentEventKind.GivenBack, 91, null),
        (Places.LeakingSite, QualityUnitKind.Screener, "SC-0201", EquipmentEventKind.CompetencyChecked, 98, null),
        (Places.LeakingSite, QualityUnitKind.Screener, "SC-0202", EquipmentEventKind.CompetencyChecked, 98, null),
        (Places.LeakingSite, QualityUnitKind.Screener, "SC-0203", EquipmentEventKind.CompetencyChecked, 98, null),
        (Places.NoisySite, QualityUnitKind.Instrument, "INS-05-1", EquipmentEventKind.Calibrated, 390, null),
        (Places.NoisySite, QualityUnitKind.Instrument, "INS-05-2", EquipmentEventKind.Calibrated, 75, null),
    ];

    /// <param name="anchor">The day the region lives up to.</param>
    /// <param name="sites">Their ids, by code.</param>
    /// <param name="manager">Of the site of story 1, who entered what happened there.</param>
    /// <param name="coordinator">Who entered the rest.</param>
    public static IEnumerable<EquipmentEvent> Of(
        DateOnly anchor, IReadOnlyDictionary<string, SiteId> sites, Guid manager, Guid coordinator) =>
        All.Select(e => new EquipmentEvent
        {
            Id = Guid.CreateVersion7(),
            SiteId = sites[e.Site],
            Unit = e.Unit,
            Name = e.Name,
            Kind = e.Kind,
            Day = anchor.AddDays(-e.DaysAgo),
            Words = e.Words is null ? null : FieldKeys.OfProcess.Encrypt(e.Words, RecordEvent.WordsColumn),
            RecordedAt = new DateTimeOffset(anchor.AddDays(-e.DaysAgo).ToDateTime(new TimeOnly(15, 0)), TimeSpan.Zero),
            RecordedBy = e.Site == Places.LeakingSite ? manager : coordinator,
        });
}
