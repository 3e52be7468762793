using Registry.Rules.Facts;
using Registry.Rules.Quality;

namespace Registry.Bench.Quality;

/// <summary>
/// Imagines first sessions ear by ear and attempt by attempt, and counts them into cells. It knows blocked ears, restless infants, leaking
/// probes and noisy rooms, and nothing of logistic models, odds or expected counts: it is not the detector's idea of the world. Rates as
/// published where they are (emissions by age: Am J Perinatol 2025, 10.1055/a-2675-1768, at four tenths; brainstem response: Semin Hear
/// 1999;20:291); the others are ours. Two ears of one infant refer together with a correlation of about .55.
/// </summary>
internal sealed class ImagineSessions(int seed, int birthsPerYear, PlantedFault? fault)
{
    private readonly Random _dice = new(seed);
    private readonly double[] _upTo = Cumulate();
    private readonly Dictionary<DateOnly, List<QualityCell>> _rescreens = [];

    /// <summary>Cells of some days, one infant each.</summary>
    public List<QualityCell> Over(DateOnly first, int days)
    {
        var cells = new List<QualityCell>();
        for (var day = 0; day < days; day++)
        {
            var date = first.AddDays(day);
            var weekend = date.DayOfWeek is DayOfWeek.Saturday or DayOfWeek.Sunday;
            var births = Poisson(_dice, birthsPerYear / 365.25 * (weekend ? .84 : 1.064));
            for (var i = 0; i < births; i++)
            {
                var session = Session(date);
                cells.Add(session);
                if (session.Referred > 0) Rescreen(session);
            }

            if (_rescreens.Remove(date, out var again)) cells.AddRange(again);
        }

        return cells;
    }

    private QualityCell Session(DateOnly day)
    {
        var at = Array.BinarySearch(_upTo, _dice.NextDouble());
        var site = ImaginedRegion.Sites[Math.Min(at < 0 ? ~at : at, ImaginedRegion.Sites.Count - 1)];
        var here = fault is not null && fault.Site == site.Code && day >= fault.From ? fault : null;
        var nicu = _dice.NextDouble() < site.NicuShare;
        var weeks = nicu ? _dice.Next(29, 39) : _dice.Next(37, 42);
        var hours = nicu
            ? Math.Max(Math.Max(1, (int)LogNormal(8, .8)), 7 * (34 - weeks) + 1) * 24 - 12
            : Math.Max(4, LogNormal(here?.Kind == FaultKind.EarlyTests ? 10 : site.MedianHours, .35));
        var hour = (int)((_dice.NextDouble() * 24 + hours) % 24);
        var brainstem = nicu || site.Protocol == Protocol.Brainstem;
        var (instrument, probe, screener) = (_dice.Next(site.Instruments), _dice.Next(site.Probes), _dice.Next(site.Screeners));
        var daytime = hour is >= 7 and < 19 && day.DayOfWeek is not (DayOfWeek.Saturday or DayOfWeek.Sunday);
        var with = here is not null && here.Touches(instrument, probe, screener, daytime) ? here : null;
        var ears = Ears(nicu, brainstem, hours, with, with?.Weeks(day) ?? 0);
        return new(site.Code, $"I{instrument + 1}", $"P{probe + 1}", $"S{screener + 1}", day, hour,
            brainstem ? ScreeningMethod.Aabr : site.Distortion ? ScreeningMethod.Dpoae : ScreeningMethod.Teoae,
            QualityCell.BandOfAge(hours), nicu, QualityCell.BandOfGestation(weeks), 1, ears.Valid ? 1 : 0, ears.Refer ? 1 : 0,
            ears.NoSeal ? 1 : 0, ears.Noise ? 1 : 0, ears.Other ? 1 : 0);
    }

    /// <summary>Nine in ten who referred are tested again in the second week, by any of the same units; about one in five refers again: the
    /// rate is ours, and faults are not imagined here.</summary>
    private void Rescreen(QualityCell first)
    {
        if (_dice.NextDouble() >= .9) return;
        var code = first.Site;
        var site = ImaginedRegion.Sites.First(s => s.Code == code);
        var day = first.Day.AddDays(_dice.Next(7, 15));
        var again = new QualityCell(code, $"I{_dice.Next(site.Instruments) + 1}", $"P{_dice.Next(site.Probes) + 1}",
            $"S{_dice.Next(site.Screeners) + 1}", day, _dice.Next(8, 17), first.Method, AgeBand.Older, first.Nicu, first.Gestation,
            1, 1, _dice.NextDouble() < .2 ? 1 : 0, 0, 0, 0, Rescreens: true);
        if (_rescreens.TryGetValue(day, out var others)) others.Add(again);
        else _rescreens[day] = [again];
    }

    private (bool Valid, bool Refer, bool NoSeal, bool Noise, bool Other) Ears(
        bool nicu, bool brainstem, double hours, PlantedFault? fault, int weeks)
    {
        var loss = _dice.NextDouble() < (nicu ? .009 : .0015);
        var times = fault?.Kind is FaultKind.DoubledRefers or FaultKind.Screener ? 2 : 1;
        var blocked = _dice.NextDouble() < times * Blocked(brainstem, hours) + (fault?.Kind == FaultKind.FourPointsMore ? .04 : 0);
        var (both, right) = (_dice.NextDouble() < .4, _dice.NextDouble() < .5);
        var restless = _dice.NextDouble() < .05;
        var leak = fault?.Kind == FaultKind.LeakingProbe ? Math.Min(.45, .08 + .03 * weeks) : 0;
        var found = (Valid: false, Refer: false, NoSeal: false, Noise: false, Other: false);
        for (var ear = 0; ear < 2; ear++)
        {
            var noisy = fault?.Kind is FaultKind.NoisyRoom ? .15 : fault?.Kind is FaultKind.Screener ? .2 : 0;
            if (_dice.NextDouble() < (restless ? .3 : .021) + leak + noisy)
            {
                var other = _dice.Next(6);
                var why = leak > 0 ? 0 : noisy > 0 ? 1 : other < 2 ? 0 : other < 4 ? 1 : 2;
                found = found with { NoSeal = found.NoSeal | why == 0, Noise = found.Noise | why == 1, Other = found.Other | why == 2 };
                if (_dice.NextDouble() < .08) continue;
            }

            found.Valid = true;
            var refers = (blocked && (both || right == (ear == 0))) || _dice.NextDouble() < .65 * leak;
            refers |= loss && _dice.NextDouble() < .98;
            found.Refer |= refers && fault?.Kind != FaultKind.PassesEverything;
        }

        return found;
    }

    private static double Blocked(bool brainstem, double hours) => brainstem
        ? hours < 24 ? .032 : .02
        : .42 * (hours < 12 ? .62 : hours < 24 ? .42 : hours < 36 ? .199 : hours < 48 ? .074 : .03);

    private double LogNormal(double median, double sigma) =>
        median * Math.Exp(sigma * Math.Sqrt(-2 * Math.Log(1 - _dice.NextDouble())) * Math.Cos(2 * Math.PI * _dice.NextDouble()));

    /// <summary>A Poisson number; of a large mean in parts, since e to its negative would be nothing.</summary>
    public static int Poisson(Random dice, double mean)
    {
        var count = 0;
        for (; mean > 500; mean -= 500) count += Poisson(dice, 500);
        var (product, limit) = (dice.NextDouble(), Math.Exp(-mean));
        while (product > limit)
        {
            count++;
            product *= dice.NextDouble();
        }

        return count;
    }

    private static double[] Cumulate()
    {
        var (total, sum) = (ImaginedRegion.Sites.Sum(s => s.Share), 0.0);
        return [.. ImaginedRegion.Sites.Select(s => sum += s.Share / total)];
    }
}
