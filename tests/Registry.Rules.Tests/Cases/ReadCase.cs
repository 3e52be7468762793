using System.Globalization;
using System.Text.RegularExpressions;
using Registry.Rules.Facts;
using Registry.Rules.Surveillance;

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
        ["further rescreens may clear"] = Policy.Default with { FurtherRescreenMayClear = true },
        ["ABR from 32 weeks"] = Policy.Default with { AbrReliableWeeks = 32 },
        ["Zika as CDC 2017"] = Policy.Default with { Surveillance = SurveillanceTime.WithZikaOfCdc2017 },
        ["CMV test"] = Policy.Default with { CmvTestAfterRefer = true },
        ["CMV test from the refer"] = Policy.Default with { CmvTestAfterRefer = true, CmvTestFromBirth = false },
        ["birth site stays responsible"] = Policy.Default with { WhoDischargesIsResponsible = false },
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
                    Time = born.Groups[2].Value == "time unknown" ? null : Time(born.Groups[2].Value),
                };
            else if (fact.StartsWith("zone ", StringComparison.Ordinal))
                policy = policy with { Zone = TimeZoneInfo.FindSystemTimeZoneById(fact[5..]) };
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

    /// <summary>One fact: when it happened, what, and now and then until when.</summary>
    private static InfantFacts AtSomeTime(InfantFacts facts, Birth birth, string fact)
    {
        var (at, what) = When(birth, fact);
        var on = DateOnly.FromDateTime(at);
        DateOnly? end = null;
        if (EndWords().Match(what) is { Success: true } ended)
            (end, what) = (birth.Date.AddDays(Number(ended.Groups[1].Value)), what[..ended.Index].Trim());
        DateOnly? next = null;
        if (NextWords().Match(what) is { Success: true } again)
            (next, what) = (birth.Date.AddDays(Number(again.Groups[1].Value)), what[..again.Index].Trim());
        var words = what.Split(' ');

        return words[0] switch
        {
            "OAE" or "AABR" or "rescreen" or "inpatient" => facts with { Tests = [.. facts.Tests, .. Tests(words, at)] },
            "not" when words[1] != "eligible" => facts with { Tests = [.. facts.Tests, .. NotPerformed(words[2], at)] },
            "audiology" => facts with { Evaluations = [.. facts.Evaluations, Evaluation(words, on) with { NextOn = next }] },
            "died" => facts with { DiedOn = on },
            "handed" => facts with { Moves = [.. facts.Moves, new(MoveKind.HandedOff, on)] },
            "adopted" when words.Length > 1 => facts with { Moves = [.. facts.Moves, new(MoveKind.AdoptedWithinRegion, on)] },
            "moved" or "adopted" or "non-resident" or "returned" => facts with { Moves = [.. facts.Moves, new(Move(words[0]), on)] },
            "transferred" => facts with { Transfers = [.. facts.Transfers, new(on, SiteB)] },
            "declines" => facts with { Refusals = [.. facts.Refusals, new(Step(words[1]), on) { RevokedOn = end }] },
            "risk" => facts with
            {
                RiskIndicators = [.. facts.RiskIndicators, new(Codes.Parse<RiskIndicatorKind>(string.Join('_', words[1..])), on)],
            },
            "contact" => facts with { ContactAttempts = [.. facts.ContactAttempts, new(Step(words[1]), on, Contact(words[2]))] },
            "readmitted" => facts with
            {
                Readmissions = [.. facts.Readmissions, new(on, words.Contains("risk")) { DischargedOn = end }],
            },
            "medical" => facts with { MedicalDelays = [.. facts.MedicalDelays, new(Step(words[2]), on) { EndedOn = end }] },
            _ => facts with { Interventions = [.. facts.Interventions, new(Intervention(what), on)] },
        };
    }

    /// <summary>The moment a fact begins with, else ten o'clock on the day of birth; and the words after it.</summary>
    private static (DateTime At, string What) When(Birth birth, string fact)
    {
        if (WhenWords().Match(fact) is not { Success: true } when) return (birth.Date.ToDateTime(new TimeOnly(10, 0)), fact);
        var what = fact[when.Length..].Trim();
        if (when.Groups["hours"].Success)
            return (birth.Date.ToDateTime(birth.Time!.Value).AddHours(Number(when.Groups["hours"].Value)), what);
        var time = when.Groups["time"].Success ? Time(when.Groups["time"].Value) : new TimeOnly(10, 0);
        return (birth.Date.AddDays(Number(when.Groups["day"].Value)).ToDateTime(time), what);
    }

    private static ScreeningTest[] NotPerformed(string because, DateTime at)
    {
        var reason = because switch
        {
            "declined" => ScreeningReason.Declined,
            "medical" => ScreeningReason.MedicalExclusion,
            "transferred" => ScreeningReason.Transferred,
            "discharged" => ScreeningReason.DischargedBeforeScreen,
            "straight" => ScreeningReason.StraightToDiagnostic,
            _ => throw new FormatException(because),
        };
        return
        [
            new(Ear.Right, ScreeningOutcome.NotPerformed, at) { Reason = reason },
            new(Ear.Left, ScreeningOutcome.NotPerformed, at) { Reason = reason },
        ];
    }

    private static MoveKind Move(string word) => word switch
    {
        "moved" => MoveKind.OutOfRegion,
        "adopted" => MoveKind.Adopted,
        "returned" => MoveKind.Returned,
        _ => MoveKind.NonResident,
    };

    private static ContactOutcome Contact(string word) => word switch
    {
        "no" => ContactOutcome.NoResponse,
        "unable" => ContactOutcome.UnableToContact,
        "reached" => ContactOutcome.Reached,
        "appointment" => ContactOutcome.AppointmentMade,
        _ => throw new FormatException(word),
    };

    private static InterventionKind Intervention(string what) => what switch
    {
        "fitted" => InterventionKind.AmplificationFitted,
        "fitting declined" => InterventionKind.AmplificationDeclined,
        _ => Codes.Parse<InterventionKind>(what.Replace(' ', '_')),
    };

    private static PathStep Step(string word) => Codes.Parse<PathStep>(word);

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

    private static TimeOnly Time(string text) => TimeOnly.Parse(text, CultureInfo.InvariantCulture);

    private static int Number(string text) => int.Parse(text, CultureInfo.InvariantCulture);

    [GeneratedRegex(@"^born (\S+) (.+)$")]
    private static partial Regex BornWords();

    [GeneratedRegex(@"^NICU (?:from )?day (\d+)(?: to (\d+))?$")]
    private static partial Regex NicuWords();

    [GeneratedRegex(@"^(?:day (?<day>-?\d+)(?: at (?<time>\d\d:\d\d))?|(?<hours>\d+)h)\s")]
    private static partial Regex WhenWords();

    [GeneratedRegex(@" (?:until|home) day (\d+)$")]
    private static partial Regex EndWords();

    [GeneratedRegex(@" next day (\d+)$")]
    private static partial Regex NextWords();
}
