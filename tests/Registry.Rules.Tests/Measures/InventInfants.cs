using Registry.Rules.Facts;
using Registry.Rules.Measures;

namespace Registry.Rules.Tests.Measures;

/// <summary>Invented infants with every fact and every disorder of facts in plausible and implausible combination; fixed seed.</summary>
internal static class InventInfants
{
    public static readonly DateOnly FirstBirth = new(2025, 1, 1);

    public static IEnumerable<MeasuredInfant> Make(int count, DateOnly asOf, int seed = 20260301, Policy? policy = null)
    {
        var random = new Random(seed);
        for (var k = 0; k < count; k++)
        {
            var facts = Facts(random, FirstBirth.AddDays(random.Next(365)));
            if (facts.Birth.Date > asOf) continue;
            var under = policy ?? Policy.Default;
            var attributes = new Attributes
            {
                Site = $"site-{random.Next(6)}",
                County = Maybe(random, .95, () => $"county-{random.Next(8)}"),
                Resident = Pick<bool?>(random, true, true, false, null),
                Insurance = Pick(random, "public", "private", null),
                Language = Pick(random, "english", "spanish", "hmong"),
            };
            var status = EvaluateInfant.Evaluate(facts, under, asOf);
            yield return new(new Guid(k, 7, 7, [1, 2, 3, 4, 5, 6, 7, 8]), facts, status, attributes, asOf);
        }
    }

    public static InfantFacts Facts(Random random, DateOnly born)
    {
        DateOnly Later(int days) => born.AddDays(random.Next(days));
        var nicu = random.NextDouble() < .1;
        return new()
        {
            Birth = new(born, Chance(random, .7) ? new TimeOnly(random.Next(24), 5) : null)
            {
                Place = random.Next(20) switch
                {
                    0 => BirthPlace.Home,
                    1 => BirthPlace.BirthCenter,
                    2 => BirthPlace.OutOfRegion,
                    3 => BirthPlace.MilitaryHospital,
                    _ => BirthPlace.Hospital,
                },
                NicuAdmittedOn = nicu ? born : null,
                NicuDischargedOn = nicu ? Later(40) : null,
                DischargedOn = Chance(random, .95) ? Later(nicu ? 60 : 4) : null,
            },
            Tests = [.. Many(random, 6, Test)],
            Evaluations = [.. Many(random, Chance(random, .3) ? 3 : 0, Evaluation)],
            Interventions = [.. Many(random, Chance(random, .3) ? 7 : 0,
                () => new InterventionEvent(
                    Chance(random, .25) ? InterventionKind.AmplificationElected : Any<InterventionKind>(random), Later(420)))],
            DiedOn = Chance(random, .02) ? Later(200) : null,
            Moves = [.. Many(random, Chance(random, .05) ? 2 : 0, () => new Move(Any<MoveKind>(random), Later(200)))],
            Refusals = [.. Many(random, Chance(random, .05) ? 2 : 0,
                () => new Refusal(Any<PathStep>(random), Later(100)) { RevokedOn = Chance(random, .3) ? Later(200) : null })],
            ContactAttempts = [.. Many(random, 3,
                () => new ContactAttempt(Any<PathStep>(random), Later(250), Any<ContactOutcome>(random)))],
            MedicalDelays = [.. Many(random, Chance(random, .03) ? 1 : 0, () => new MedicalDelay(Any<PathStep>(random), Later(60)))],
        };

        ScreeningTest Test()
        {
            var (ear, outcome) = (Any<Ear>(random), Outcome(random));
            var at = Later(Chance(random, .8) ? 5 : 90).ToDateTime(new TimeOnly(random.Next(24), random.Next(60)));
            return new(ear, outcome, at) { Method = Any<ScreeningMethod>(random), Reason = Any<ScreeningReason>(random) };
        }

        DiagnosticEvaluation Evaluation() => new(Later(250), Any<EarFinding>(random), Any<EarFinding>(random))
        {
            RightDegree = Any<LossDegree>(random),
            LeftDegree = Any<LossDegree>(random),
            Provisional = Chance(random, .3),
            Permanent = Pick<bool?>(random, null, null, true, false),
        };
    }

    private static ScreeningOutcome Outcome(Random random) =>
        random.Next(10) switch
        {
            < 6 => ScreeningOutcome.Pass,
            < 8 => ScreeningOutcome.Refer,
            8 => ScreeningOutcome.NoValidResult,
            _ => ScreeningOutcome.NotPerformed,
        };

    private static bool Chance(Random random, double p) => random.NextDouble() < p;

    private static T? Maybe<T>(Random random, double p, Func<T> make) where T : class => Chance(random, p) ? make() : null;

    private static T Pick<T>(Random random, params T[] from) => from[random.Next(from.Length)];

    private static T Any<T>(Random random) where T : struct, Enum => Pick(random, Enum.GetValues<T>());

    private static IEnumerable<T> Many<T>(Random random, int most, Func<T> make) =>
        Enumerable.Range(0, random.Next(most + 1)).Select(_ => make());
}
