using Registry.Rules.Quality;
using Registry.SiteQuality.Equipment;

namespace Registry.SiteQuality;

/// <summary>Something to look at first, and what was entered since the problem began that is an answer to it; null: nothing was.</summary>
public sealed record SortedCheck(FirstCheck Check, ChartMark? Done);

/// <summary>Puts what to look at first into the order in which it is still to be done: what was done since the problem began did not help,
/// or not yet, and comes after what nobody has done.</summary>
public static class SortChecks
{
    /// <summary>The events that answer a check, by its code. Who exchanged a tip has looked at the probe; who watched a screener has
    /// watched a session. What is not entered as an event (the room, the time of the test) cannot be known.</summary>
    private static readonly Dictionary<string, EquipmentEventKind[]> Answers = new(StringComparer.Ordinal)
    {
        ["tip_and_port"] = [EquipmentEventKind.TipChanged, EquipmentEventKind.Checked, EquipmentEventKind.Repaired],
        ["swap_probe"] = [EquipmentEventKind.ProbeChanged],
        ["calibration"] = [EquipmentEventKind.Calibrated, EquipmentEventKind.Checked],
        ["known_ears"] = [EquipmentEventKind.Checked],
        ["placement"] = [EquipmentEventKind.CompetencyChecked],
        ["competency"] = [EquipmentEventKind.CompetencyChecked],
    };

    /// <param name="finding">The problem.</param>
    /// <param name="marks">What was done to the part it names (<see cref="ChartMark.Concerns"/>).</param>
    public static IReadOnlyList<SortedCheck> Of(QualityFinding finding, IEnumerable<ChartMark> marks)
    {
        var done = marks.Where(m => m.Event is not null && m.Day >= finding.Named.OnsetOn).OrderBy(m => m.Day).ToList();
        return
        [
            .. CheckFirst.For(finding.Measure, finding.Above, finding.Named.Part.Kind)
                .Select(check => new SortedCheck(check,
                    Answers.TryGetValue(check.Id, out var kinds) ? done.FindLast(m => kinds.Contains(m.Event!.Kind)) : null))
                .OrderBy(c => c.Done is not null),
        ];
    }
}
