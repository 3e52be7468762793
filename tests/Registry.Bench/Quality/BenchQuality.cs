using System.Collections.Concurrent;
using System.Globalization;
using Registry.Rules;
using Registry.Rules.Quality;

namespace Registry.Bench.Quality;

/// <summary>
/// Region-years without a fault, every night looked at, against the stated number of false flags; then planted faults: how soon they are
/// found and whether the right cause is named first. The case mix is fitted to the year before, as an installation does.
/// </summary>
internal static class BenchQuality
{
    private const int Births = 27_000, Year = 365, LeadIn = 180, BeforeFault = 30, Patience = 180, Wanted = 30, ClosedAfter = 30;
    private static readonly DateOnly Begin = new(2031, 1, 1);
    private static readonly DateOnly Watched = Begin.AddDays(Year);
    private static readonly ParallelOptions AllCores = new() { MaxDegreeOfParallelism = Environment.ProcessorCount };

    private static readonly (string Name, FaultKind Kind, string Site)[] Faults =
    [
        ("refers doubled, site of 3,375 births", FaultKind.DoubledRefers, ImaginedRegion.Large),
        ("refers doubled, 1,485", FaultKind.DoubledRefers, ImaginedRegion.Medium),
        ("refers doubled, 486", FaultKind.DoubledRefers, ImaginedRegion.Small),
        ("leaking probe, one of four, 3,375", FaultKind.LeakingProbe, ImaginedRegion.Large),
        ("leaking probe, one of three, 1,485", FaultKind.LeakingProbe, ImaginedRegion.Medium),
        ("leaking probe, the only one, 486", FaultKind.LeakingProbe, ImaginedRegion.Small),
        ("tests at 10 hours, 1,485", FaultKind.EarlyTests, ImaginedRegion.Medium),
        ("room noisy on weekdays, 1,485", FaultKind.NoisyRoom, ImaginedRegion.Medium),
        ("one screener of five, 1,485", FaultKind.Screener, ImaginedRegion.Medium),
        ("AABR instrument +4 points, one of two, 3,105", FaultKind.FourPointsMore, ImaginedRegion.BrainstemOnly),
        ("probe passes everything, one of four, 3,375", FaultKind.PassesEverything, ImaginedRegion.Large),
    ];

    /// <param name="years">Region-years without a fault.</param>
    /// <param name="runs">Of each planted fault.</param>
    /// <param name="falseFlags">Allowed a year; null: what the policy says by default.</param>
    /// <param name="seeds">Added to every seed: what is chosen on some is reported on others.</param>
    /// <param name="only">Of the faults those whose name has it; empty: all.</param>
    public static int Run(int years, int runs, int? falseFlags, int seeds = 0, string only = "")
    {
        var policy = falseFlags is { } allowed ? Policy.Default with { FalseFlagsPerYear = allowed } : Policy.Default;
        Print($"{Births} births a year, {ImaginedRegion.Sites.Count} sites; stated: {policy.FalseFlagsPerYear} false flags a region-year.");
        if (years > 0) WithoutFault(years, seeds, policy);
        if (runs == 0) return 0;
        Console.WriteLine();
        Print($"{runs} runs of each planted fault. First: its cause is named when raised.");
        Print($"Right: it is on night {Wanted} of the fault, or when raised later. Held: the onset's interval holds its day.");
        Print($"Others: false flags a year beside it.");
        Print($"Best: the most that any method could find in {Wanted} days, with all the region's false flags for this one question.");
        Row("planted", "30 days", "best", "90 days", "180", "median", "first", "right", "held", "others");
        foreach (var (name, kind, site) in Faults.Where(f => f.Name.Contains(only, StringComparison.Ordinal)))
            Plant(name, kind, site, runs, seeds, policy);
        return 0;
    }

    /// <summary>
    /// What nothing could do better (<see cref="BestPossible"/>), of the faults whose only trace are refers: with all the region's false
    /// flags, shared alike between the units it is asked of; and how many a year would be needed for nine in ten.
    /// </summary>
    public static int Best(Policy policy)
    {
        Print($"Best possible within {Wanted} days, told the place, the change and its day beforehand.");
        Print($"{"planted",-46} {"evidence",8} {"all flags",10} {"needed for 90 %",16}");
        foreach (var (name, kind, site) in Faults)
        {
            if (Question(kind) is not { } units) continue;
            var best = new BestPossible(new(kind, site, Watched), Births, Wanted);
            var each = Each(units, policy);
            var needed = best.Size(.9) * units * 365.25 / Wanted;
            Print($"{name,-46} {best.Evidence,8:0.0} {best.Power(each),10:0 %} {needed,9:0.00} a year");
        }

        return 0;
    }

    /// <summary>Probability of a false flag of one of so many units in the days wanted, all of the region's shared.</summary>
    private static double Each(int units, Policy policy) => policy.FalseFlagsPerYear * Wanted / 365.25 / units;

    /// <summary>How many units of the kind the fault is of are watched; null where not only refers tell.</summary>
    private static int? Question(FaultKind kind) => kind switch
    {
        FaultKind.DoubledRefers => ImaginedRegion.Sites.Count,
        FaultKind.FourPointsMore => Several().Sum(s => s.Instruments),
        FaultKind.PassesEverything => Several().Sum(s => s.Probes),
        _ => null,
    };

    /// <summary>Sites whose probes and instruments are not the same sessions as the site itself.</summary>
    private static IEnumerable<ImaginedSite> Several() => ImaginedRegion.Sites.Where(s => s.Probes > 1);

    private static void WithoutFault(int years, int seeds, Policy policy)
    {
        var flags = new ConcurrentBag<UnitFinding>();
        var busy = 0;
        Parallel.For(0, years, AllCores, year =>
        {
            // Charts that have run a while, as they have in an installation.
            var found = WatchClosing(300_000 + seeds + year, policy).Where(f => f.RaisedOn >= Watched.AddDays(LeadIn)).ToList();
            foreach (var flag in found) flags.Add(flag);
            if (found.Count > 0) Interlocked.Increment(ref busy);
        });
        Print($"{years} region-years without a fault, {Year} nights each, flags closed after {ClosedAfter} days:");
        Print($"  false flags a region-year {PerYear(flags.Count)}, region-years with one {Percent(busy, years)}");
        foreach (var kind in QualityUnit.Kinds)
        {
            var stated = policy.FalseFlagsPerYear * WatchChart.ShareOf(kind);
            Print($"  {kind,-12} {PerYear(flags.Count(f => f.Unit.Kind == kind))}, stated {stated:0.00}");
        }

        foreach (var measure in flags.GroupBy(f => (f.Measure, f.Above)).OrderBy(g => g.Key))
            Print($"  {measure.Key.Measure,-12} {(measure.Key.Above ? "too many" : "too few")} {PerYear(measure.Count())}");

        string PerYear(int count) => Text($"{(double)count / years:0.00} (s.e. {Math.Sqrt(count) / years:0.00})");
    }

    private static void Plant(string name, FaultKind kind, string site, int runs, int seeds, Policy policy)
    {
        var results = new ConcurrentBag<(int? Days, bool First, bool Right, bool Held, int Others)>();
        var causes = new ConcurrentBag<string>();
        Parallel.For(0, runs, AllCores, run =>
        {
            var fault = new PlantedFault(kind, site, Watched.AddDays(BeforeFault));
            var found = Watch(60_000 + seeds + run, fault, policy);
            var flags = found.Where(f => f.Site == site && f.RaisedOn >= fault.From && fault.ShowsIn(f)).ToList();
            if (flags.Count == 0)
            {
                results.Add((null, false, false, false, found.Count));
                return;
            }

            // Shown that night: the flags that stand, the oldest first, by the name each has.
            var night = fault.From.AddDays(Wanted - 1);
            if (night < flags[0].RaisedOn) night = flags[0].RaisedOn;
            var shown = flags.Find(f => f.RaisedOn <= night && !(f.ClosedOn <= night)) ?? flags[0];
            var right = Names(shown.NamedOn(night));
            if (!right) causes.Add($"{shown.Measure} by {shown.NamedOn(night).Factor.Kind}");
            var change = shown.NamedOn(night).Change;
            results.Add((flags[0].RaisedOn.DayNumber - fault.From.DayNumber + 1, Names(flags[0].Named[0].Cause), right,
                change.First <= fault.From.DayNumber && fault.From.DayNumber <= change.Last, found.Count - 1));

            bool Names(NamedCause cause) => fault.IsNamedBy(cause.Factor) || cause.Same.Any(fault.IsNamedBy);
        });
        var days = results.Select(r => r.Days).OfType<int>().Order().ToArray();
        var median = days.Length * 2 > runs ? Text($"{days[runs / 2]}") : "-";
        var (first, right) = (Percent(results.Count(r => r.First), days.Length), Percent(results.Count(r => r.Right), days.Length));
        var held = Percent(results.Count(r => r.Held), days.Length);
        Row(name, Within(Wanted), Best(), Within(90), Within(180), median, first, right, held, Text($"{Others():0.00}"));
        var wrong = causes.GroupBy(c => c).OrderByDescending(c => c.Count()).Select(c => Text($"{c.Count()} {c.Key}"));
        if (!causes.IsEmpty) Print($"    else: {string.Join(", ", wrong)}");

        string Within(int limit) => Percent(days.Count(d => d <= limit), runs);
        string Best() => Question(kind) is { } units
            ? Text($"{new BestPossible(new(kind, site, Watched), Births, Wanted).Power(Each(units, policy)):0 %}") : "";
        double Others() => results.Sum(r => r.Others) * 365.0 / (BeforeFault + Patience) / runs;
    }

    /// <summary>A region with a fault. False flags raised before it began were looked into and closed on its eve: one left open would
    /// take in what the fault does.</summary>
    private static IReadOnlyList<UnitFinding> Watch(int seed, PlantedFault fault, Policy policy)
    {
        var imagined = new ImagineSessions(seed, Births, fault);
        var plan = PlanWatch.From(imagined.Over(Begin, Year), policy, 1);
        var cells = imagined.Over(Watched, BeforeFault + Patience);
        var closed = WatchRegion.Over(plan, cells.Where(c => c.Site == fault.Site && c.Day < fault.From), [], policy)
            .Where(f => f.ClosedOn is null)
            .Select(f => new ClosedCase(f.Site, f.Measure, f.Above, f.Cause.Factor, fault.From.AddDays(-1))).ToList();
        return WatchRegion.Over(plan, cells, closed, policy);
    }

    /// <summary>A region-year without a fault, charts half a year old at its beginning; who gets a false flag closes it a month later, and
    /// its charts begin anew: left open it would keep others from being raised.</summary>
    private static IEnumerable<UnitFinding> WatchClosing(int seed, Policy policy)
    {
        var imagined = new ImagineSessions(seed, Births, null);
        var plan = PlanWatch.From(imagined.Over(Begin, Year), policy, 1);
        foreach (var cells in imagined.Over(Watched, LeadIn + Year).GroupBy(c => c.Site))
        {
            var closed = new List<ClosedCase>();
            while (true)
            {
                var found = WatchRegion.Over(plan, cells, closed, policy);
                var last = Watched.AddDays(LeadIn + Year - ClosedAfter);
                if (found.FirstOrDefault(f => f.ClosedOn is null && f.RaisedOn < last) is { } flag)
                {
                    var on = flag.RaisedOn.AddDays(ClosedAfter);
                    closed.Add(new(flag.Site, flag.Measure, flag.Above, flag.NamedOn(on).Factor, on));
                    continue;
                }

                foreach (var each in found) yield return each;
                break;
            }
        }
    }

    private static void Row(string name, params string[] cells) =>
        Console.WriteLine($"{name,-46} {string.Join(' ', cells.Select(c => c.PadLeft(7)))}");

    private static string Percent(int part, int of) => of == 0 ? "-" : Text($"{100.0 * part / of:0} %");

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);

    private static void Print(FormattableString text) => Console.WriteLine(Text(text));
}
