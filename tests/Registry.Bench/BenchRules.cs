using System.Diagnostics;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.Bench;

/// <summary>
/// Pure evaluation on one core: infants per second and bytes allocated per infant, beside the limit of only reading
/// the same facts once in the same process.
/// </summary>
internal static class BenchRules
{
    private const int Infants = 200_000;

    public static int Run()
    {
        var region = Region();
        var asOf = new DateOnly(2026, 6, 30);

        // Warm up until the JIT has optimised both loops.
        for (var i = 0; i < 5; i++)
        {
            Evaluate(region, asOf);
            Read(region);
        }

        var (evaluate, bytes) = Best(() => Evaluate(region, asOf));
        var (read, _) = Best(() => Read(region));
        var perSecond = Infants / evaluate;
        Console.WriteLine($"infants                {Infants:N0}, {region.Average(f => f.Tests.Length):F1} tests each, "
            + $"{Passed(region, asOf):P1} passed");
        Console.WriteLine($"evaluate               {perSecond:N0} infants/s on one core, {1e9 * evaluate / Infants:N0} ns each");
        Console.WriteLine($"allocated              {bytes / Infants:N0} bytes per infant");
        Console.WriteLine($"limit: read each fact  {Infants / read:N0} infants/s, {1e9 * read / Infants:N0} ns each");
        Console.WriteLine($"ratio                  {evaluate / read:F1}");
        return perSecond >= 500_000 ? 0 : 1;
    }

    private static double Passed(InfantFacts[] region, DateOnly asOf) =>
        region.Count(f => EvaluateInfant.Evaluate(f, Policy.Default, asOf).Screening == ScreeningConclusion.Passed) / (double)Infants;

    private static (double Seconds, long Bytes) Best(Func<long> work)
    {
        var (best, bytes) = (double.MaxValue, 0L);
        for (var i = 0; i < 7; i++)
        {
            var before = GC.GetAllocatedBytesForCurrentThread();
            var started = Stopwatch.GetTimestamp();
            work();
            best = Math.Min(best, Stopwatch.GetElapsedTime(started).TotalSeconds);
            bytes = GC.GetAllocatedBytesForCurrentThread() - before;
        }

        return (best, bytes);
    }

    private static long Evaluate(InfantFacts[] region, DateOnly asOf)
    {
        var sum = 0L;
        foreach (var facts in region) sum += (int)EvaluateInfant.Evaluate(facts, Policy.Default, asOf).Screening;
        return sum;
    }

    /// <summary>Reads every dated fact once, and nothing more.</summary>
    private static long Read(InfantFacts[] region)
    {
        var sum = 0L;
        foreach (var facts in region)
        {
            sum += facts.Birth.Date.DayNumber + (facts.DiedOn?.DayNumber ?? 0);
            foreach (ref readonly var test in facts.Tests.AsSpan()) sum += test.PerformedAt.Ticks + (int)test.Outcome + (int)test.Ear;
            foreach (ref readonly var evaluation in facts.Evaluations.AsSpan())
                sum += evaluation.EvaluatedOn.DayNumber + (int)evaluation.Right + (int)evaluation.Left;
            foreach (ref readonly var happened in facts.Interventions.AsSpan()) sum += happened.HappenedOn.DayNumber + (int)happened.Kind;
            foreach (ref readonly var move in facts.Moves.AsSpan()) sum += move.MovedOn.DayNumber + (int)move.Kind;
            foreach (ref readonly var transfer in facts.Transfers.AsSpan()) sum += transfer.TransferredOn.DayNumber;
            foreach (ref readonly var refusal in facts.Refusals.AsSpan()) sum += refusal.RefusedOn.DayNumber + (int)refusal.Step;
            foreach (ref readonly var risk in facts.RiskIndicators.AsSpan()) sum += risk.NotedOn.DayNumber + (int)risk.Kind;
            foreach (ref readonly var contact in facts.ContactAttempts.AsSpan())
                sum += contact.AttemptedOn.DayNumber + (int)contact.Outcome;
            foreach (ref readonly var readmission in facts.Readmissions.AsSpan()) sum += readmission.AdmittedOn.DayNumber;
            foreach (ref readonly var delay in facts.MedicalDelays.AsSpan()) sum += delay.FromOn.DayNumber;
        }

        return sum;
    }

    /// <summary>A region with realistic rates (invented, fixed seed): half a year of births; 98 % screened, one ear in twelve refers
    /// first, some refer again, some are evaluated, found, referred, lost; one in seven carries a risk indicator.</summary>
    private static InfantFacts[] Region()
    {
        var random = new Random(136);
        var region = new InfantFacts[Infants];
        for (var i = 0; i < Infants; i++) region[i] = Infant(random);
        return region;
    }

    private static InfantFacts Infant(Random random)
    {
        var born = new DateOnly(2026, 1, 1).AddDays(random.Next(180));
        var nicu = random.Next(12) == 0;
        var site = new Guid(1 + random.Next(20), 0, 0, [0, 0, 0, 0, 0, 0, 0, 0]);
        var birth = new Birth(born, new TimeOnly(random.Next(24), random.Next(60)))
        {
            SiteId = site,
            Place = random.Next(100) == 0 ? BirthPlace.Home : BirthPlace.Hospital,
            NicuAdmittedOn = nicu ? born : null,
            NicuDischargedOn = nicu ? born.AddDays(1 + random.Next(20)) : null,
            DischargedOn = born.AddDays(nicu ? 21 : 2),
        };
        var tests = new List<ScreeningTest>();
        var refers = false;
        if (random.Next(50) != 0)
        {
            var at = born.AddDays(1).ToDateTime(new TimeOnly(8 + random.Next(9), random.Next(60)));
            var method = nicu ? ScreeningMethod.Aabr : ScreeningMethod.Teoae;
            for (var ear = 0; ear < 2; ear++)
            {
                if (random.Next(10) == 0) Test(ScreeningOutcome.NoValidResult, ear, at);
                var refer = random.Next(24) == 0;
                refers |= refer;
                Test(refer ? ScreeningOutcome.Refer : ScreeningOutcome.Pass, ear, at.AddMinutes(4));
            }

            if (refers && random.Next(5) != 0)
            {
                at = born.AddDays(14 + random.Next(20)).ToDateTime(new TimeOnly(10, 0));
                var again = random.Next(5) == 0;
                Test(again ? ScreeningOutcome.Refer : ScreeningOutcome.Pass, 0, at);
                Test(ScreeningOutcome.Pass, 1, at.AddMinutes(5));
                refers = again;
            }

            void Test(ScreeningOutcome outcome, int ear, DateTime when) =>
                tests.Add(new((Ear)ear, outcome, when) { Method = method, SiteId = site });
        }

        var evaluated = refers && random.Next(2) == 0;
        var loss = evaluated && random.Next(5) == 0;
        return new InfantFacts
        {
            Birth = birth,
            Tests = [.. tests],
            Evaluations = evaluated
                ? [new(born.AddDays(50 + random.Next(60)), loss ? EarFinding.Sensorineural : EarFinding.Normal, EarFinding.Normal)] : [],
            Interventions = loss ? [new(InterventionKind.Referred, born.AddDays(120)), new(InterventionKind.Enrolled, born.AddDays(160))]
                : [],
            RiskIndicators = random.Next(7) == 0 ? [new((RiskIndicatorKind)random.Next(12), born)] : [],
            ContactAttempts = refers && !evaluated ? [new(PathStep.Diagnosis, born.AddDays(60), ContactOutcome.NoResponse)] : [],
            DiedOn = random.Next(300) == 0 ? born.AddDays(random.Next(40)) : null,
        };
    }
}
