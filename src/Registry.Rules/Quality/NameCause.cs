namespace Registry.Rules.Quality;

/// <summary>What can be behind an unusual rate at a site.</summary>
public enum CauseKind { Site, Instrument, Probe, Screener, EarlyTests, Weekdays, Weekends, Daytime, NightTime }

/// <summary>A part of a site's sessions that one thing could have changed.</summary>
/// <param name="Kind">Which kind of part.</param>
/// <param name="Code">The unit's code; the site's for what is not a unit.</param>
public readonly record struct CauseFactor(CauseKind Kind, string Code)
{
    /// <summary>The first hour of the day, and of the night.</summary>
    public const int DayFrom = 7, NightFrom = 19;

    /// <summary>Whether a session of the site belongs to it. Of early tests themselves timing is behind all sessions, of another measure
    /// behind those that were early.</summary>
    public bool Holds(QualityCell cell, SessionMeasure measure, Policy policy) => Kind switch
    {
        CauseKind.Instrument => cell.Instrument == Code,
        CauseKind.Probe => cell.Probe == Code,
        CauseKind.Screener => cell.Screener == Code,
        CauseKind.EarlyTests => measure == SessionMeasure.Early || CountMeasure.IsEarly(cell, policy),
        CauseKind.Weekdays => IsWeekday(cell),
        CauseKind.Weekends => !IsWeekday(cell),
        CauseKind.Daytime => IsDaytime(cell),
        CauseKind.NightTime => !IsDaytime(cell),
        _ => true,
    };

    public static CauseFactor Of(QualityUnit unit) => new(unit.Kind switch
    {
        QualityUnitKind.Site => CauseKind.Site,
        QualityUnitKind.Instrument => CauseKind.Instrument,
        QualityUnitKind.Probe => CauseKind.Probe,
        _ => CauseKind.Screener,
    }, unit.Code);

    /// <summary>Whether it is a unit.</summary>
    public bool Is(QualityUnit unit) => Of(unit) == this;

    public static bool IsWeekday(DateOnly day) => day.DayOfWeek is not (DayOfWeek.Saturday or DayOfWeek.Sunday);
    public static bool IsDaytime(int hour) => hour is >= DayFrom and < NightFrom;

    private static bool IsWeekday(QualityCell cell) => IsWeekday(cell.Day);
    private static bool IsDaytime(QualityCell cell) => IsDaytime(cell.Hour);
}

/// <summary>The factor that explains most, and what else could.</summary>
/// <param name="Factor">Named first.</param>
/// <param name="Change">Since when and how much, of its sessions.</param>
/// <param name="Sure">Probability of it among the factors considered, given that one of them is behind it.</param>
/// <param name="Same">Factors with the very same sessions: nothing in the data can tell them from it.</param>
/// <param name="Next">The next likely one; null without.</param>
public sealed record NamedCause(
    CauseFactor Factor, DatedChange Change, double Sure, IReadOnlyList<CauseFactor> Same, CauseFactor? Next);

/// <summary>
/// Names the factor behind an unusual rate: every part of the site's sessions is fitted with a change of its own (a log odds ratio since a
/// day, on top of case mix; beforehand half of all changes multiply the odds by less than four), and the one that gains most is named. A
/// part is charged the logarithm of how many of its kind there are, as if every kind were as likely beforehand and every unit of a kind as
/// well: of six screeners the luckiest always gains something.
/// </summary>
public static class NameCause
{
    /// <summary>Standard deviation of a change's log odds ratio beforehand. Own choice.</summary>
    public const double Spread = 2;

    /// <param name="rows">Of one measure at one site, in order of day; logits hold what standing problems already explain.</param>
    /// <param name="measure">Decides which factors are asked about.</param>
    /// <param name="above">Too many, or too few.</param>
    /// <param name="standing">Units, or early tests, already found behind another measure: one fault that shows twice is likelier than
    /// two.</param>
    /// <param name="policy">What is early.</param>
    public static NamedCause? Of(
        IReadOnlyList<(DatedTrials Trials, QualityCell Cell)> rows, SessionMeasure measure, bool above,
        IReadOnlyCollection<CauseFactor> standing, Policy policy)
    {
        var candidates = Factors(rows, measure, above).Select(c =>
        {
            var held = rows.Where(r => c.Factor.Holds(r.Cell, measure, policy)).Select(r => r.Trials).ToList();
            var charge = standing.Contains(c.Factor) ? -1 : Math.Log(c.Among) + Unlikelier(c.Factor.Kind, measure);
            return (c.Factor, Held: held, Change: DateChange.Of(held, above, Spread), Charge: charge);
        }).Where(c => c.Change is not null).Select(c => (c.Factor, c.Held, Change: c.Change!.Value, Score: c.Change.Value.Gain - c.Charge))
        .OrderByDescending(c => Math.Round(c.Score, 6)).ThenBy(c => Order(c.Factor.Kind, measure)).ToList();
        if (candidates.Count == 0) return null;
        var best = candidates[0];
        var same = candidates.Skip(1).Where(c => c.Held.Count == best.Held.Count && c.Held.SequenceEqual(best.Held)).ToList();
        var others = candidates.Skip(1).Except(same).ToList();
        var sure = 1 / (1 + others.Sum(c => Math.Exp(c.Score - best.Score)));
        return new(best.Factor, best.Change, sure, [.. same.Select(c => c.Factor)], others.Count > 0 ? others[0].Factor : null);
    }

    /// <summary>The same cause with the days on which it may have begun if it grew (<see cref="DateChange.Growing"/>).</summary>
    /// <param name="cause">Named.</param>
    /// <param name="rows">The rows it was named from.</param>
    /// <param name="measure">That was asked about.</param>
    /// <param name="policy">What is early.</param>
    public static NamedCause MayHaveGrown(
        NamedCause cause, IEnumerable<(DatedTrials Trials, QualityCell Cell)> rows, SessionMeasure measure, Policy policy) => cause with
        {
            Change = DateChange.Growing(
                [.. rows.Where(r => cause.Factor.Holds(r.Cell, measure, policy)).Select(r => r.Trials)], cause.Change, Spread),
        };

    /// <summary>Every factor asked about, with how many of its kind there are.</summary>
    private static IEnumerable<(CauseFactor Factor, int Among)> Factors(
        IReadOnlyList<(DatedTrials Trials, QualityCell Cell)> rows, SessionMeasure measure, bool above)
    {
        var site = rows.Count > 0 ? rows[0].Cell.Site : "";
        if (measure != SessionMeasure.Early) yield return (new(CauseKind.Site, site), 1);
        else yield return (new(CauseKind.EarlyTests, site), 1);
        foreach (var screener in Named(CauseKind.Screener, c => c.Screener)) yield return screener;
        if (measure == SessionMeasure.Early) yield break;
        foreach (var instrument in Named(CauseKind.Instrument, c => c.Instrument)) yield return instrument;
        foreach (var probe in Named(CauseKind.Probe, c => c.Probe)) yield return probe;
        if (measure == SessionMeasure.Referred && above) yield return (new(CauseKind.EarlyTests, site), 1);
        if (measure != SessionMeasure.Noise) yield break;
        foreach (var time in new[] { CauseKind.Weekdays, CauseKind.Weekends, CauseKind.Daytime, CauseKind.NightTime })
            yield return (new(time, site), 2);

        IEnumerable<(CauseFactor, int)> Named(CauseKind kind, Func<QualityCell, string?> of)
        {
            var codes = rows.Select(r => of(r.Cell)).OfType<string>().Distinct().Order(StringComparer.Ordinal).ToList();
            return codes.Select(c => (new CauseFactor(kind, c), codes.Count));
        }
    }

    /// <summary>How much less likely a kind is beforehand than the likeliest of a measure, as a logarithm. Common practice, no source:
    /// a lost seal is looked for at the probe, noise at the room and the screener, another failure at the instrument; age is in the case
    /// mix already. The numbers are ours.</summary>
    private static double Unlikelier(CauseKind kind, SessionMeasure measure) => (measure, kind) switch
    {
        (SessionMeasure.Referred or SessionMeasure.RescreenReferred, CauseKind.Site) => 0,
        (SessionMeasure.NoSeal, CauseKind.Probe) => 0,
        (SessionMeasure.OtherInvalid, CauseKind.Instrument) or (SessionMeasure.Early, CauseKind.EarlyTests) => 0,
        (SessionMeasure.Noise, CauseKind.Instrument or CauseKind.Probe) => 2,
        (SessionMeasure.Referred, CauseKind.EarlyTests) => 3.5,
        (SessionMeasure.Referred, _) => 2.5,
        (SessionMeasure.NoSeal, CauseKind.Instrument) => 2,
        (SessionMeasure.Noise, CauseKind.Site) => .5,
        (SessionMeasure.Noise, CauseKind.Weekends or CauseKind.NightTime) => 1,
        (SessionMeasure.Noise, _) => 0,
        _ => 1,
    };

    /// <summary>Between factors with the same sessions: what is checked first for the measure (common practice, no source).</summary>
    private static int Order(CauseKind kind, SessionMeasure measure) => (measure, kind) switch
    {
        (SessionMeasure.NoSeal, CauseKind.Probe) or (SessionMeasure.OtherInvalid, CauseKind.Instrument) => -1,
        (_, CauseKind.EarlyTests) => 0,
        _ => 1 + (int)kind,
    };
}
