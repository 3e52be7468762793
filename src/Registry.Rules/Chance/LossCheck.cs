using Registry.Rules.Statistics;

namespace Registry.Rules.Chance;

/// <summary>Cases of one group beside what was expected of them.</summary>
/// <param name="Level">Null: the groups too small to be shown, together.</param>
public sealed record LossGroup(LossFactor? By, string? Level, CalibrationGroup Counts);

/// <summary>Whether chances given to infants the fit had not seen came true.</summary>
/// <param name="Cases">An infant counts at each age it was looked at.</param>
/// <param name="Infants">How many there are.</param>
/// <param name="Lost">Of them lost after some age.</param>
/// <param name="Area">How well it tells those who were lost.</param>
/// <param name="Calibration">Its groups are neighbors by chance, the small ones joined.</param>
/// <param name="Groups">By language, by insurance, by race and ethnicity (no factor), the small ones joined.</param>
public sealed record LossCheck(
    int Cases, int Infants, int Lost, AreaUnderCurve Area, Calibration Calibration, IReadOnlyList<LossGroup> Groups)
{
    /// <summary>Whether chances are good enough to order calls: better than a coin, neither too bold nor too timid, and adding up to
    /// within a fifth. The limits are ours.</summary>
    public bool Holds => Area.Interval().Lower > 0.5 && Calibration.Slope is > 0.7 and < 1.3 && Total is { Expected: > 0 } all
        && Math.Abs(all.Events / all.Expected - 1) < 0.2;

    private CalibrationGroup Total => Calibration.Groups.Aggregate((a, b) => a + b);

    public static LossCheck Of(IReadOnlyList<(PastCase Case, double Chance)> cases, int smallCount)
    {
        var infants = cases.Select(c => c.Case.Infant).Distinct().Count();
        var lost = cases.Where(c => c.Case.Lost).Select(c => c.Case.Infant).Distinct().Count();
        var stated = cases.Select(c => (c.Chance, c.Case.Lost)).ToList();
        var calibration = Calibration.Of(stated) ?? throw new ArgumentException("Nobody or everybody was lost.", nameof(cases));
        return new(cases.Count, infants, lost, Discrimination.Of(stated, (lost, infants - lost))!.Value,
            calibration with { Groups = JoinSmall(calibration.Groups, smallCount) },
            [
                .. By(cases, LossFactor.Language, c => c.Language, smallCount),
                .. By(cases, LossFactor.Insurance, c => c.Insurance, smallCount),
                .. By(cases, null, c => c.RaceEthnicity, smallCount),
            ]);
    }

    /// <summary>Joins neighbors until no group has few lost or few who were not.</summary>
    private static List<CalibrationGroup> JoinSmall(IReadOnlyList<CalibrationGroup> groups, int smallCount)
    {
        var joined = new List<CalibrationGroup>();
        var open = default(CalibrationGroup);
        foreach (var group in groups)
        {
            open += group;
            if (IsSmall(open, smallCount)) continue;
            joined.Add(open);
            open = default;
        }

        if (open.Cases == 0) return joined;
        if (joined.Count == 0) return [open];
        joined[^1] += open;
        return joined;
    }

    private static List<LossGroup> By(
        IReadOnlyList<(PastCase Case, double Chance)> cases, LossFactor? by, Func<LossTraits, string?> of, int smallCount)
    {
        var groups = cases.GroupBy(c => LossCase.Stated(of(c.Case.Traits)))
            .Select(g => (Level: g.Key, Counts: new CalibrationGroup(g.Count(), g.Sum(c => c.Chance), g.Count(c => c.Case.Lost))))
            .OrderByDescending(g => g.Counts.Cases).ThenBy(g => g.Level, StringComparer.Ordinal).ToList();
        var rest = default(CalibrationGroup);
        foreach (var small in groups.Where(g => IsSmall(g.Counts, smallCount))) rest += small.Counts;
        groups.RemoveAll(g => IsSmall(g.Counts, smallCount));

        // What is left over is no small count either: it would be the whole less what is shown.
        while (rest.Cases > 0 && IsSmall(rest, smallCount) && groups.Count > 0)
        {
            rest += groups[^1].Counts;
            groups.RemoveAt(groups.Count - 1);
        }

        var shown = groups.ConvertAll(g => new LossGroup(by, g.Level, g.Counts));
        if (rest.Cases > 0) shown.Add(new(by, null, rest));
        return shown;
    }

    private static bool IsSmall(CalibrationGroup group, int smallCount) =>
        group.Events < smallCount || group.Cases - group.Events < smallCount;
}
