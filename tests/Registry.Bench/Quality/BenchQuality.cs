using System.Collections.Concurrent;
using System.Diagnostics;
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
    private const int Births = 27_000, Year = 365, Patience = 180;
    private static readonly DateOnly Begin = new(2031, 1, 1);
    private static readonly DateOnly Watched = Begin.AddDays(Year);
    private static readonly Policy Policy = Policy.Default;

    public static int Run(int years)
    {
        Console.WriteLine(Text($"{Births} births a year, {ImaginedRegion.Sites.Count} sites; stated: {Policy.FalseFlagsPerYear} false flags a year."));
        WithoutFault(years);
        if (Environment.GetEnvironmentVariable("LAB") == "0") return 0;
        Console.WriteLine();
        Console.WriteLine("planted                                  found   in 30 days    in 90   median days   right cause first   onset held   other flags");
        var each = Math.Max(10, years / 3);
        Plant("refers doubled, 1,485 births", FaultKind.DoubledRefers, ImaginedRegion.Medium, each);
        Plant("refers doubled, 3,375 births", FaultKind.DoubledRefers, ImaginedRegion.Large, each);
        Plant("refers doubled, 486 births", FaultKind.DoubledRefers, ImaginedRegion.Small, each);
        Plant("leaking probe, one of four, 3,375", FaultKind.LeakingProbe, ImaginedRegion.Large, each);
        Plant("leaking probe, one of three, 1,485", FaultKind.LeakingProbe, ImaginedRegion.Medium, each);
        Plant("leaking probe, the only one, 486", FaultKind.LeakingProbe, ImaginedRegion.Small, each);
        Plant("tests at 10 hours, 1,485 births", FaultKind.EarlyTests, ImaginedRegion.Medium, each);
        Plant("room noisy on weekdays, 1,485", FaultKind.NoisyRoom, ImaginedRegion.Medium, each);
        Plant("one screener of five, 1,485", FaultKind.Screener, ImaginedRegion.Medium, each);
        Plant("brainstem instrument +4 points, 1,553", FaultKind.FourPointsMore, ImaginedRegion.BrainstemOnly, each);
        Plant("probe passes everything, 844 infants", FaultKind.PassesEverything, ImaginedRegion.Large, each);
        return 0;
    }

    private static void WithoutFault(int years)
    {
        var clock = Stopwatch.StartNew();
        var flags = new ConcurrentBag<UnitFinding>();
        var busy = 0;
        Parallel.For(0, years, new ParallelOptions { MaxDegreeOfParallelism = 2 }, year =>
        {
            var found = Watch(1000 + year, null, Year);
            foreach (var flag in found) flags.Add(flag);
            if (found.Count > 0) Interlocked.Increment(ref busy);
        });
        Console.WriteLine(Text($"{years} region-years without a fault, {Year} nights each ({clock.Elapsed.TotalSeconds:0} s):"));
        Console.WriteLine(Text($"  false flags a region-year {(double)flags.Count / years:0.00}, region-years with one {100.0 * busy / years:0} %"));
        foreach (var kind in QualityUnit.Kinds)
            Console.WriteLine(Text($"  {kind,-12} {(double)flags.Count(f => f.Unit.Kind == kind) / years:0.000} of {Policy.FalseFlagsPerYear / 4.0:0.00}"));
        foreach (var measure in flags.GroupBy(f => (f.Measure, f.Above)).OrderBy(g => g.Key))
            Console.WriteLine(Text($"  {measure.Key.Measure,-12} {(measure.Key.Above ? "too many" : "too few")} {(double)measure.Count() / years:0.000}"));
    }

    private static void Plant(string name, FaultKind kind, string site, int runs)
    {
        var results = new ConcurrentBag<(int? Days, bool Right, bool Held, int Others, string Cause)>();
        Parallel.For(0, runs, new ParallelOptions { MaxDegreeOfParallelism = 2 }, run =>
        {
            // A month without it first, as any fault has.
            var fault = new PlantedFault(kind, site, Watched.AddDays(30));
            var found = Watch(50_000 + run, fault, 30 + Patience);
            var first = found.FirstOrDefault(f => f.Site == site && f.RaisedOn >= fault.From);
            results.Add((first?.RaisedOn.DayNumber - fault.From.DayNumber + 1, first is not null && fault.IsNamedBy(first.Cause.Factor)
                || first is not null && first.Cause.Same.Any(fault.IsNamedBy),
                first is not null && first.OnsetFirst <= fault.From && fault.From <= first.OnsetLast,
                found.Count(f => f != first), first is null ? "" : $"{first.Measure}:{first.Cause.Factor.Kind}" + (Environment.GetEnvironmentVariable("LAB") == "2" ? $"[{first.OnsetFirst.DayNumber-fault.From.DayNumber},{first.Onset.DayNumber-fault.From.DayNumber},{first.OnsetLast.DayNumber-fault.From.DayNumber}]" : "")));
        });
        var days = results.Select(r => r.Days).OfType<int>().Order().ToArray();
        Console.WriteLine(Text($"{name,-40} {Percent(days.Length, runs)} {Percent(days.Count(d => d <= 30), runs),12} {Percent(days.Count(d => d <= 90), runs),8} {(days.Length > 0 ? days[days.Length / 2] : 0),13} {Percent(results.Count(r => r.Right), days.Length),19} {Percent(results.Count(r => r.Held), days.Length),12} {(double)results.Sum(r => r.Others) / runs,13:0.00}"));
        if (Environment.GetEnvironmentVariable("LAB") is not null)
            Console.WriteLine("    " + string.Join(", ", results.GroupBy(r => r.Cause).OrderByDescending(g => g.Count()).Select(g => $"{g.Key} {g.Count()}")));
    }

    private static IReadOnlyList<UnitFinding> Watch(int seed, PlantedFault? fault, int days)
    {
        var cells = new ImagineSessions(seed, Births, fault);
        var plan = PlanWatch.From(cells.Over(Begin, Year), Policy, 1);
        return WatchRegion.Over(plan, cells.Over(Watched, days), [], Policy);
    }

    private static string Percent(int part, int of) => of == 0 ? "     -" : Text($"{100.0 * part / of,4:0} %");

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
