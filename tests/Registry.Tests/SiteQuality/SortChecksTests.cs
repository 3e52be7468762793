using Registry.Records;
using Registry.Rules.Quality;
using Registry.SiteQuality;
using Registry.SiteQuality.Equipment;
using Registry.Tests.SiteQuality.Flags;

namespace Registry.Tests.SiteQuality;

/// <summary>What to check first comes in the order in which it is still to be done: common practice, no source.</summary>
public sealed class SortChecksTests
{
    private static readonly DateOnly Onset = new(2026, 11, 1);
    private static readonly SiteId Site = SiteId.New();

    [Fact]
    public void What_was_done_since_the_onset_says_so_and_comes_after_what_nobody_did()
    {
        Assert.Equal("tip_and_port, swap_probe, calibration", Order([]));
        Assert.Equal("swap_probe, calibration, tip_and_port 2026-11-05", Order([Done(EquipmentEventKind.TipChanged, 4)]));
        Assert.Equal("swap_probe, tip_and_port 2026-11-05, calibration 2026-11-02",
            Order([Done(EquipmentEventKind.TipChanged, 4), Done(EquipmentEventKind.Calibrated, 1)]));
        // The last time counts; one event may answer two checks.
        Assert.Equal("swap_probe, tip_and_port 2026-11-09, calibration 2026-11-09",
            Order([Done(EquipmentEventKind.TipChanged, 4), Done(EquipmentEventKind.Checked, 8)]));
    }

    [Fact]
    public void What_was_done_before_or_to_another_part_or_is_no_answer_changes_nothing()
    {
        const string untouched = "tip_and_port, swap_probe, calibration";
        Assert.Equal(untouched, Order([Done(EquipmentEventKind.TipChanged, -1)]));
        Assert.Equal(untouched, Order([Done(EquipmentEventKind.TipChanged, 4, "P8")]));
        Assert.Equal(untouched, Order([Done(EquipmentEventKind.Calibrated, 4, unit: QualityUnitKind.Instrument)]));
        Assert.Equal(untouched, Order([Done(EquipmentEventKind.LentOut, 4)]));
        Assert.Equal(untouched, Order([new(Onset.AddDays(4), "tip changed", null, Guid.NewGuid())]));
    }

    [Fact]
    public void A_day_of_competency_answers_what_is_asked_of_a_screener()
    {
        var finding = FlagBed.Flag(Site, "Ines Quill", cause: CauseKind.Screener, onset: Onset);
        Assert.Equal("placement, competency", Order([], finding));
        Assert.Equal("placement 2026-11-03, competency 2026-11-03",
            Order([Done(EquipmentEventKind.CompetencyChecked, 2, "Ines Quill", QualityUnitKind.Screener)], finding));
    }

    [Fact]
    public void A_flag_that_names_no_part_is_answered_by_what_was_done_to_any_equipment_and_by_no_screener()
    {
        var finding = FlagBed.Flag(Site, "harbour", cause: CauseKind.Site, onset: Onset);
        Assert.Equal("placement, protocol, tip_and_port 2026-11-05", Order([Done(EquipmentEventKind.TipChanged, 4, "P8")], finding));
        Assert.Equal("tip_and_port, placement, protocol",
            Order([Done(EquipmentEventKind.CompetencyChecked, 4, "Ines Quill", QualityUnitKind.Screener)], finding));
    }

    [Fact]
    public void What_is_used_together_answers_together()
    {
        var swapped = Done(EquipmentEventKind.ProbeChanged, 4, "I1", QualityUnitKind.Instrument);
        Assert.Equal("tip_and_port, swap_probe, calibration", Order([swapped with { UsedWith = new HashSet<string> { "P8" } }]));
        Assert.Equal("tip_and_port, calibration, swap_probe 2026-11-05",
            Order([swapped with { UsedWith = new HashSet<string> { "P8", "P9" } }]));
        var ofInstrument = FlagBed.Flag(Site, "I1", cause: CauseKind.Instrument, onset: Onset);
        var tip = Done(EquipmentEventKind.TipChanged, 4) with { UsedWith = new HashSet<string> { "I1" } };
        Assert.EndsWith(" 2026-11-05", Order([tip], ofInstrument), StringComparison.Ordinal);
        tip = tip with { UsedWith = new HashSet<string> { "I2" } };
        Assert.DoesNotContain("2026", Order([tip], ofInstrument), StringComparison.Ordinal);
    }

    private static string Order(IEnumerable<ChartMark> marks, QualityFinding? finding = null)
    {
        finding ??= FlagBed.Flag(Site, onset: Onset);
        return string.Join(", ", SortChecks.Of(finding, marks.Where(m => m.Concerns(finding)))
            .Select(c => c.Check.Id + (c.Done is null ? "" : $" {c.Done.Day:yyyy-MM-dd}")));
    }

    private static ChartMark Done(
        EquipmentEventKind kind, int daysAfter, string name = "P9", QualityUnitKind unit = QualityUnitKind.Probe) =>
        new(Onset.AddDays(daysAfter), "done", new EquipmentEvent
        {
            SiteId = Site,
            Unit = unit,
            Name = name,
            Kind = kind,
            Day = Onset.AddDays(daysAfter),
        }, null);
}
