using System.Globalization;
using System.Text.RegularExpressions;
using Registry.Rules.Facts;

namespace Registry.Rules.Tests.Cases;

/// <summary>Reads the words of infants.md: facts separated by semicolons, each either about the birth or beginning with when it
/// happened (<c>day 14</c>, <c>day 14 at 15:00</c>, <c>26h</c>).</summary>
internal static partial class ReadCase
{
    public static readonly Guid SiteA = new("aaaaaaaa-0000-0000-0000-000000000000");
    public static readonly Guid SiteB = new("bbbbbbbb-0000-0000-0000-000000000000");

    private static readonly Dictionary<string, Policy> Policies = new()
    {
        ["CDC"] = Policy.CdcStrict,
        ["1-2-3"] = Policy.OneTwoThree,
        ["30/91/181 days"] = Policy.Default with
        {
            ScreeningDeadline = new(30, DeadlineUnit.Days),
            DiagnosisDeadline = new(91, DeadlineUnit.Days),
            InterventionDeadline = new(181, DeadlineUnit.Days),
        },
        ["one session"] = Policy.Default with { CombineEarsInInitialScreen = false },
        ["combine rescreens"] = Policy.Default with { CombineEarsAcrossRescreens = true },
        ["rescreen until 2 months"] = Policy.Default with { RescreenUntil = new(2, DeadlineUnit.Months) },
        ["OAE may clear"] = Policy.Default with { OaeMayClearAbrRefer = true },
        ["NICU rescreens"] = Policy.Default with { NicuReferToAudiology = false },
        ["correct for prematurity"] = Policy.Default with { CorrectForPrematurity = true },
        ["referred ear only"] = Policy.Default with { EvaluateBothEars = false },
        ["enrolment only"] = Policy.Default with { ServicePlanCountsAsEnrolled = false },
    };

    public static (InfantFacts Facts, Policy Policy) Facts(string text)
    {
        var policy = Policy.Default;
        var birth = new Birth(new DateOnly(2026, 3, 10), new TimeOnly(8, 0)) { SiteId = SiteA };
        int? discharged = 2, nicuFrom = null, nicuTo = null;
        var facts = new InfantFacts { Birth = birth };
        foreach (var fact in text.Split(';', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries))
        {
            if (fact.StartsWith("policy ", StringComparison.Ordinal)) policy = Policies[fact[7..]];
            else if (BornWords().Match(fact) is { Success: true } born)
                birth = birth with
                {
                    Date = DateOnly.Parse(born.Groups[1].Value, CultureInfo.InvariantCulture),
                    Time = born.Groups[2].Value == "time unknown" ? null : TimeOnly.Parse(
                        born.Groups[2].Value, CultureInfo.InvariantCulture),
                };
            else if (fact == "at home") (birth, discharged) = (birth with { Place = BirthPlace.Home }, null);
            else if (fact == "out of region") birth = birth with { Place = BirthPlace.OutOfRegion };
            else if (fact == "discharge unknown") discharged = null;
            else if (fact.StartsWith("discharged day ", StringComparison.Ordinal)) discharged = Number(fact[15..]);
            else if (NicuWords().Match(fact) is { Success: true } nicu)
                (nicuFrom, nicuTo) = (Number(nicu.Groups[1].Value), nicu.Groups[2].Success ? Number(nicu.Groups[2].Value) : null);
            else if (fact.EndsWith(" weeks", StringComparison.Ordinal)) birth = birth with { GestationWeeks = Number(fact[..^6]) };
            else facts = AtSomeTime(facts, birth, fact);
        }

        DateOnly? Day(int? number) => number is { } n ? birth.Date.AddDays(n) : null;
        return (facts with
        {
            Birth = birth with { DischargedOn = Day(discharged), NicuAdmittedOn = Day(nicuFrom), NicuDischargedOn = Day(nicuTo) },
        }, policy);
    }

    private static InfantFacts AtSomeTime(InfantFacts facts, Birth birth, string fact)
    {
        var (at, what) = (birth.Date.ToDateTime(new TimeOnly(10, 0)), fact);
        if (WhenWords().Match(fact) is { Success: true } when)
        {
            what = fact[when.Length..].Trim();
            at = when.Groups["hours"].Success
                ? birth.Date.ToDateTime(birth.Time!.Value).AddHours(Number(when.Groups["hours"].Value))
                : birth.Date.AddDays(Number(when.Groups["day"].Value)).ToDateTime(
                    when.Groups["time"].Success ? TimeOnly.Parse(when.Groups["time"].Value, CultureInfo.InvariantCulture) : new TimeOnly(
                        10, 0));
        }

        var on = DateOnly.FromDateTime(at);
        DateOnly? end = null;
        if (EndWords().Match(what) is { Success: true } ended)
            (end, what) = (birth.Date.AddDays(Number(ended.Groups[1].Value)), what[..ended.Index].Trim());
        var words = what.Split(' ');
        string Rest(int from) => string.Join('_', words[from..]);

        switch (words[0])
        {
            case "OAE" or "AABR" or "rescreen" or "inpatient":
                return facts with { Tests = [.. facts.Tests, .. Tests(words, at)] };
            case "not":
                if (words[1] == "eligible") break;
                var reason = words[2] switch
                {
                    "declined" => ScreeningReason.Declined,
                    "medical" => ScreeningReason.MedicalExclusion,
                    "transferred" => ScreeningReason.Transferred,
                    "discharged" => ScreeningReason.DischargedBeforeScreen,
                    "straight" => ScreeningReason.StraightToDiagnostic,
                    _ => throw new FormatException(fact),
                };
                return facts with
                {
                    Tests =
                    [
                        .. facts.Tests, new(Ear.Right, ScreeningOutcome.NotPerformed, at) { Reason = reason },
                        new(Ear.Left, ScreeningOutcome.NotPerformed, at) { Reason = reason },
                    ],
                };
            case "audiology":
                return facts with { Evaluations = [.. facts.Evaluations, Evaluation(words, on)] };
            case "died":
                return facts with { DiedOn = on };
            case "moved" or "adopted" or "non-resident" or "returned":
                var kind = words[0] switch
                {
                    "moved" => MoveKind.OutOfRegion,
                    "adopted" => MoveKind.Adopted,
                    "returned" => MoveKind.Returned,
                    _ => MoveKind.NonResident,
                };
                return facts with { Moves = [.. facts.Moves, new(kind, on)] };
            case "transferred":
                return facts with { Transfers = [.. facts.Transfers, new(on, SiteB)] };
            case "declines":
                return facts with { Refusals = [.. facts.Refusals, new(Codes.Parse<PathStep>(words[1]), on) { RevokedOn = end }] };
            case "risk":
                return facts with { RiskIndicators = [.. facts.RiskIndicators, new(Codes.Parse<RiskIndicatorKind>(Rest(1)), on)] };
            case "contact":
                var outcome = words[2] switch
                {
                    "no" => ContactOutcome.NoResponse,
                    "unable" => ContactOutcome.UnableToContact,
                    "reached" => ContactOutcome.Reached,
                    "appointment" => ContactOutcome.AppointmentMade,
                    _ => throw new FormatException(fact),
                };
                return facts with { ContactAttempts = [.. facts.ContactAttempts, new(Codes.Parse<PathStep>(words[1]), on, outcome)] };
            case "readmitted":
                return facts with { Readmissions = [.. facts.Readmissions, new(on, words.Contains("risk")) { DischargedOn = end }] };
            case "medical":
                return facts with { MedicalDelays = [.. facts.MedicalDelays, new(Codes.Parse<PathStep>(words[2]), on) { EndedOn = end }] };
        }

        var happened = what switch
        {
            "fitted" => InterventionKind.AmplificationFitted,
            "fitting declined" => InterventionKind.AmplificationDeclined,
            _ => Codes.Parse<InterventionKind>(Rest(0)),
        };
        return facts with { Interventions = [.. facts.Interventions, new(happened, on)] };
    }

    private static IEnumerable<ScreeningTest> Tests(string[] words, DateTime at)
    {
        var stage = ScreeningStage.Unstated;
        var method = ScreeningMethod.Unknown;
        var ear = Ear.Right;
        var site = words[^1] == "B" ? SiteB : SiteA;
        foreach (var word in words[^1] == "B" ? words[..^3] : words)
        {
            switch (word)
            {
                case "rescreen": stage = ScreeningStage.OutpatientRescreen; break;
                case "inpatient": stage = ScreeningStage.BirthAdmission; break;
                case "OAE": method = ScreeningMethod.Oae; break;
                case "AABR": method = ScreeningMethod.Aabr; break;
                case "R": ear = Ear.Right; break;
                case "L": ear = Ear.Left; break;
                default:
                    var (outcome, reason) = word switch
                    {
                        "pass" => (ScreeningOutcome.Pass, ScreeningReason.None),
                        "refer" => (ScreeningOutcome.Refer, ScreeningReason.None),
                        "noise" => (ScreeningOutcome.NoValidResult, ScreeningReason.Noise),
                        "no-seal" => (ScreeningOutcome.NoValidResult, ScreeningReason.NoSeal),
                        _ => throw new FormatException(word),
                    };
                    yield return new(ear, outcome, at) { Method = method, Stage = stage, Reason = reason, SiteId = site };
                    at = at.AddMinutes(1);
                    break;
            }
        }
    }

    private static DiagnosticEvaluation Evaluation(string[] words, DateOnly on)
    {
        EarFinding Of(string ear) => words[Array.IndexOf(words, ear) + 1] switch
        {
            "neuropathy" => EarFinding.AuditoryNeuropathy,
            "undetermined" => EarFinding.LossUndetermined,
            "not-evaluated" => EarFinding.NotEvaluated,
            var finding => Codes.Parse<EarFinding>(finding),
        };
        return new(on, Of("R"), Of("L"))
        {
            Provisional = words.Contains("provisional"),
            Permanent = words.Contains("permanent") ? !words.Contains("not") : null,
        };
    }

    private static int Number(string text) => int.Parse(text, CultureInfo.InvariantCulture);

    [GeneratedRegex(@"^born (\S+) (.+)$")]
    private static partial Regex BornWords();

    [GeneratedRegex(@"^NICU (?:from )?day (\d+)(?: to (\d+))?$")]
    private static partial Regex NicuWords();

    [GeneratedRegex(@"^(?:day (?<day>-?\d+)(?: at (?<time>\d\d:\d\d))?|(?<hours>\d+)h)\s")]
    private static partial Regex WhenWords();

    [GeneratedRegex(@" (?:until|home) day (\d+)$")]
    private static partial Regex EndWords();
}
