using Registry.Rules.Facts;
using Registry.Rules.Surveillance;

namespace Registry.Rules.Tests.Oracle;

/// <summary>
/// Infants from a seed. Far stranger than a region's: contradictory, crowded around the boundaries of every rule
/// (month ends, deadlines, five days in the NICU), so that rare branches are met often.
/// </summary>
public sealed class GeneratedInfants(int seed)
{
    private static readonly Guid[] Sites = [new("11111111-0000-0000-0000-000000000001"), new("22222222-0000-0000-0000-000000000002")];
    private static readonly int[] Anchors = [0, 1, 2, 5, 6, 7, 28, 30, 31, 45, 59, 61, 90, 92, 120, 121, 181, 184, 210, 270, 275, 365, 1000,
        1095, 1826];

    private static readonly TimeZoneInfo NewYork = TimeZoneInfo.FindSystemTimeZoneById("America/New_York");

    private static readonly RiskIndicatorKind[] Neural =
        [RiskIndicatorKind.ExchangeTransfusion, RiskIndicatorKind.Meningitis, RiskIndicatorKind.Sepsis];

    private readonly Random _random = new(seed);

    public (InfantFacts Facts, Policy Policy, DateOnly AsOf) Next()
    {
        var born = Chance(4)
            ? new DateOnly(2023 + Below(3), 1 + Below(12), 1).AddDays(-1 - Below(2))
            : new DateOnly(2023, 1, 1).AddDays(Below(1200));
        TimeOnly? time = Chance(3) ? null : new TimeOnly(Below(24), Below(60));
        var nicu = Chance(4);
        var birth = new Birth(born, time)
        {
            Place = Pick<BirthPlace>(),
            SiteId = Sites[Below(2)],
            GestationWeeks = Chance(2) ? 24 + Below(18) : null,
            NicuAdmittedOn = nicu ? born.AddDays(Below(3)) : null,
            NicuDischargedOn = nicu && Chance(2) ? born.AddDays(Below(60)) : nicu ? born.AddDays(3 + Below(6)) : null,
            DischargedOn = Chance(3) ? null : born.AddDays(Chance(10) ? Below(90) : 1 + Below(4)),
        };
        var facts = new InfantFacts
        {
            Birth = birth,
            Tests = [.. Many(8, _ => Test(birth))],
            Evaluations = [.. Many(4, _ => Evaluation(born))],
            Interventions = [.. Many(5, _ => new InterventionEvent(Pick<InterventionKind>(), On(born)))],
            DiedOn = Chance(12) ? On(born) : null,
            Moves = [.. Some(6, 4, _ => new Move(Pick<MoveKind>(), On(born)))],
            Transfers = [.. Some(5, 2, _ => new Transfer(Chance(2) ? born.AddDays(Below(5)) : On(born), Sites[Below(2)]))],
            Refusals = [.. Some(5, 3, _ => Refusal(born))],
            RiskIndicators = [.. Some(2, 4, _ => new RiskIndicator(Pick<RiskIndicatorKind>(), Chance(2) ? born : On(born)))],
            ContactAttempts = [.. Some(2, 5, _ => new ContactAttempt(Pick<PathStep>(), On(born), Pick<ContactOutcome>()))],
            Readmissions = [.. Some(8, 2, _ => new Readmission(On(born), !Chance(3)) { DischargedOn = Chance(2) ? null : On(born) })],
            MedicalDelays = [.. Some(12, 2, _ => new MedicalDelay(Pick<PathStep>(), On(born)) { EndedOn = Chance(2) ? null : On(born) })],
        };
        // Readmissions early, and now and then with what can harm the nerve.
        if (facts.Readmissions.Length > 0 && Chance(2))
        {
            var stay = facts.Readmissions[0] with { AdmittedOn = born.AddDays(3 + Below(30)) };
            facts = facts with
            {
                Readmissions = [stay, .. facts.Readmissions[1..]],
                RiskIndicators = [.. facts.RiskIndicators, new(Neural[Below(3)], stay.AdmittedOn.AddDays(Below(3) - 1))],
            };
        }

        var asOf = On(born);
        return (facts, Policy() with { Zone = Chance(4) ? NewYork : TimeZoneInfo.Utc }, asOf < born ? born : asOf);
    }

    private ScreeningTest Test(Birth birth)
    {
        var day = birth.Date.AddDays(Chance(40) ? -1 : Chance(3) ? Anchors[Below(Anchors.Length)] : Chance(2) ? Below(3) : 5 + Below(40));
        // Few distinct hours, so that tests meet in one session or at one moment.
        return new((Ear)Below(2), Chance(8) ? ScreeningOutcome.NotPerformed : (ScreeningOutcome)Below(3),
            // Now and then around midnight, where a sitting crosses into another day or stage.
            Chance(4) ? day.ToDateTime(new TimeOnly(23, 40)).AddMinutes(13 * Below(4))
                : day.ToDateTime(new TimeOnly(9 + 2 * Below(4), 30 * Below(2))))
        {
            Method = Pick<ScreeningMethod>(),
            Reason = Pick<ScreeningReason>(),
            Stage = Chance(2) ? ScreeningStage.Unstated : Pick<ScreeningStage>(),
            SiteId = Chance(8) ? Sites[1] : Sites[0],
        };
    }

    private DiagnosticEvaluation Evaluation(DateOnly born) => new(On(born), Finding(), Finding())
    {
        RightDegree = Pick<LossDegree>(),
        LeftDegree = Pick<LossDegree>(),
        Provisional = Chance(3),
        Permanent = Chance(2) ? null : Chance(2),
        NextOn = Chance(5) ? On(born) : null,
    };

    private EarFinding Finding() => Chance(2) ? EarFinding.Normal : Pick<EarFinding>();

    private Refusal Refusal(DateOnly born)
    {
        var on = On(born);
        return new(Pick<PathStep>(), on) { RevokedOn = Chance(2) ? null : on.AddDays(Below(100)) };
    }

    /// <summary>A day near something that matters, now and then before birth.</summary>
    private DateOnly On(DateOnly born)
    {
        if (Chance(60)) return born.AddDays(-1 - Below(3));
        if (Chance(3)) return born.AddDays(Below(400));
        if (Chance(2)) return born.AddMonths(new[] { 1, 2, 3, 4, 6, 9, 12, 36, 60 }[Below(9)]).AddDays(Below(5) - 2);
        return born.AddDays(Anchors[Below(Anchors.Length)] + Below(3));
    }

    private Policy Policy()
    {
        if (Chance(3)) return Rules.Policy.Default;
        if (Chance(3)) return Rules.Policy.OneTwoThree;
        if (Chance(2)) return Rules.Policy.CdcStrict;
        return Rules.Policy.Default with
        {
            ScreeningDeadline = new(30 + Below(2), DeadlineUnit.Days, Chance(2)),
            DiagnosisDeadline = new(91, DeadlineUnit.Days, Chance(2)),
            InterventionDeadline = new(181, DeadlineUnit.Days, Chance(2)),
            CorrectForPrematurity = Chance(2),
            TrustReportedStage = Chance(2),
            BirthAdmissionHours = 48 + 24 * Below(4),
            SessionHours = 1 + Below(6),
            CombineEarsInInitialScreen = Chance(2),
            CombineEarsAcrossRescreens = Chance(2),
            OaeMayClearAbrRefer = Chance(2),
            MaxValidAttempts = 1 + Below(3),
            NicuReferToAudiology = Chance(2),
            RescreenUntil = new(1 + Below(3), DeadlineUnit.Months, Chance(2)),
            MaxRescreens = 1 + Below(2),
            EvaluateBothEars = Chance(2),
            ServicePlanCountsAsEnrolled = Chance(2),
            LossGraceDays = 15 * Below(4),
            ContactAttemptsForLoss = 1 + Below(3),
            AppointmentHoldDays = 15 * Below(4),
            SittingMinutes = 15 * Below(3),
            FurtherRescreenMayClear = Chance(2),
            AbrReliableWeeks = 32 + Below(3),
            TermWeeks = 37 + Below(4),
            CmvTestAfterRefer = Chance(2),
            CmvTestFromBirth = Chance(2),
            MiddleEarReevaluation = new(1 + Below(3), DeadlineUnit.Months, Chance(2)),
            MonitoringMonths = 3 + 3 * Below(3),
            MonitoringUntilYears = 2 + Below(3),
            PartCUntilYears = 2 + Below(2),
            DevelopmentalAssessmentMonths = 6 + 6 * Below(3),
            WhoDischargesIsResponsible = Chance(2),
            InpatientDays = 30 * (1 + Below(5)),
            HandOffDays = 7 * (1 + Below(4)),
            Surveillance = Chance(2) ? SurveillanceTime.WithZikaOfCdc2017 : SurveillanceTime.Jcih2019,
        };
    }

    private IEnumerable<T> Many<T>(int most, Func<int, T> make) => Enumerable.Range(0, Below(most + 1)).Select(make);

    private IEnumerable<T> Some<T>(int oneIn, int most, Func<int, T> make) =>
        Chance(oneIn) ? Enumerable.Range(0, 1 + Below(most)).Select(make) : [];

    private int Below(int n) => _random.Next(n);
    private bool Chance(int oneIn) => _random.Next(oneIn) == 0;
    private T Pick<T>() where T : struct, Enum => Enum.GetValues<T>()[Below(Enum.GetValues<T>().Length)];
}
