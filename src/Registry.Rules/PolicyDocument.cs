using System.Text.Json;
using System.Text.Json.Serialization;
using Registry.Rules.Facts;

namespace Registry.Rules;

// The policy as a JSON document: written, read, and refused with the name of the field that is wrong.
public sealed partial record Policy
{
    private static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web)
    {
        WriteIndented = true,
        UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow,
        Converters = { new JsonStringEnumConverter(JsonNamingPolicy.SnakeCaseLower, allowIntegerValues: false) },
    };

    /// <summary>The document as stored and shown.</summary>
    public string ToJson() => JsonSerializer.Serialize(this, Json);

    /// <summary>Reads a document written by <see cref="ToJson"/>; fields it leaves out have their defaults.</summary>
    /// <exception cref="JsonException">Not a policy document, or a value out of range; the message names the field.</exception>
    public static Policy FromJson(string json)
    {
        var policy = JsonSerializer.Deserialize<Policy>(json, Json) ?? throw new JsonException("The document is empty.");
        var problems = policy.Problems().ToList();
        return problems.Count == 0 ? policy : throw new JsonException(string.Join(" ", problems));
    }

    /// <summary>What is wrong with this policy: one sentence per problem, each naming the field; empty when nothing is.</summary>
    public IEnumerable<string> Problems()
    {
        if (string.IsNullOrWhiteSpace(Version)) yield return "version: a name is needed.";
        if (string.IsNullOrWhiteSpace(Source)) yield return "source: say where the choices come from.";

        foreach (var (name, deadline) in new[]
        {
            ("screeningDeadline", ScreeningDeadline), ("diagnosisDeadline", DiagnosisDeadline),
            ("interventionDeadline", InterventionDeadline), ("rescreenUntil", RescreenUntil),
            ("readmissionUntil", ReadmissionUntil), ("amplificationDeadline", AmplificationDeadline),
            ("middleEarReevaluation", MiddleEarReevaluation),
        })
        {
            var most = deadline.Unit == DeadlineUnit.Months ? 24 : 731;
            if (deadline.Amount < 1 || deadline.Amount > most)
                yield return $"{name}.amount: {deadline.Amount} is not between 1 and {most}.";
        }

        foreach (var (name, value, least, most) in new[]
        {
            ("retentionYears", RetentionYears, 1, 150), ("refusedFileDays", RefusedFileDays, 7, 3_650),
            ("sessionIdleMinutes", SessionIdleMinutes, 1, 720), ("glassHours", GlassHours, 1, 72), ("glassTries", GlassTries, 1, 20),
            ("birthAdmissionHours", BirthAdmissionHours, 24, 720), ("sessionHours", SessionHours, 1, 24),
            ("maxValidAttempts", MaxValidAttempts, 1, 20), ("earliestOaeHours", EarliestOaeHours, 0, 168),
            ("earliestAbrHours", EarliestAbrHours, 0, 168), ("nicuDays", NicuDays, 0, 90), ("maxRescreens", MaxRescreens, 1, 10),
            ("diagnosisInProcessDays", DiagnosisInProcessDays, 0, 366), ("lossGraceDays", LossGraceDays, 0, 366),
            ("contactAttemptsForLoss", ContactAttemptsForLoss, 1, 20), ("appointmentHoldDays", AppointmentHoldDays, 0, 366),
            ("releaseThreshold", ReleaseThreshold, Disclosure.SmallCounts.LowestThreshold, 50),
            ("releaseProtection", ReleaseProtection, 1, 20), ("releaseAfterMonths", ReleaseAfterMonths, 8, 36),
            ("sittingMinutes", SittingMinutes, 0, 120), ("abrReliableWeeks", AbrReliableWeeks, 24, 42), ("termWeeks", TermWeeks, 24, 42),
            ("cmvTestDays", CmvTestDays, 1, 60), ("monitoringMonths", MonitoringMonths, 1, 60),
            ("monitoringUntilYears", MonitoringUntilYears, 1, 18), ("partCUntilYears", PartCUntilYears, 1, 6),
            ("developmentalAssessmentMonths", DevelopmentalAssessmentMonths, 1, 36),
            ("inpatientDays", InpatientDays, 1, 366), ("handOffDays", HandOffDays, 1, 366),
            ("reportingDays", ReportingDays, 0, 366), ("curveMinimum", CurveMinimum, 2, 100),
            ("falseFlagsPerYear", FalseFlagsPerYear, 1, 50), ("calibrationMonths", CalibrationMonths, 1, 60),
            ("arrivalDays", ArrivalDays, 1, 90), ("skippedSendings", SkippedSendings, 1, 20), ("burstTestDays", BurstTestDays, 2, 60),
            ("keptBackPercent", KeptBackPercent, 1, 99), ("burstPercent", BurstPercent, 1, 99),
            ("commonMarkPercent", CommonMarkPercent, 10, 100),
            ("silenceDays", SilenceDays, 1, 60), ("silenceGaps", SilenceGaps, 1, 10), ("silenceOdds", SilenceOdds, 10, 1_000_000),
            ("workAheadDays", WorkAheadDays, 0, 120), ("tryAgainDays", TryAgainDays, 1, 60), ("callBackDays", CallBackDays, 1, 120),
            ("foundDays", FoundDays, 1, 366), ("bothEarsDays", BothEarsDays, 0, 90), ("riskDays", RiskDays, 0, 90),
            ("fruitlessTryDays", FruitlessTryDays, 0, 30),
            ("chanceOfLossDays", ChanceOfLossDays, 0, 90), ("acknowledgeDays", AcknowledgeDays, 1, 60),
            ("answerLinkDays", AnswerLinkDays, 1, 60), ("answerLinkTries", AnswerLinkTries, 1, 20),
            ("searchAgainDays", SearchAgainDays, 1, 366), ("triesBeforeClosing", TriesBeforeClosing, 0, 20),
        })
        {
            if (value < least || value > most) yield return $"{name}: {value} is not between {least} and {most}.";
        }

        var anyDay = new DateOnly(2001, 1, 31);
        if (ScreeningDeadline.LastDay(anyDay) > DiagnosisDeadline.LastDay(anyDay))
            yield return "diagnosisDeadline: it is before screeningDeadline.";
        if (DiagnosisDeadline.LastDay(anyDay) > InterventionDeadline.LastDay(anyDay))
            yield return "interventionDeadline: it is before diagnosisDeadline.";

        foreach (var problem in ProblemsOfLists()) yield return problem;
    }

    private IEnumerable<string> ProblemsOfLists()
    {
        for (var i = 0; i < PassCriteria.Length; i++)
        {
            var c = PassCriteria[i];
            foreach (var problem in c.Problems()) yield return $"passCriteria[{i}].{problem}";
            if (PassCriteria.Take(i).Any(o => o.IsForTheSameAs(c)))
                yield return $"passCriteria[{i}]: an earlier one is for the same site, instrument and method.";
        }

        for (var i = 0; i < Surveillance.Length; i++)
            foreach (var problem in Surveillance[i].Problems())
                yield return $"surveillance[{Codes.Of(Surveillance[i].Kind)}].{problem}";
        foreach (var kind in Enum.GetValues<RiskIndicatorKind>())
        {
            var count = Surveillance.Count(t => t.Kind == kind);
            if (count != 1) yield return $"surveillance: '{Codes.Of(kind)}' must be there once, and is {count} times.";
        }
    }
}
