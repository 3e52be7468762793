using Registry.Rules.Facts;
using Registry.Rules.Milestones;

namespace Registry.Rules.Measures;

/// <summary>What a figure can be broken down by, as reported at birth; null when it was not stated.</summary>
public sealed record Attributes
{
    /// <summary>Code of the birth site.</summary>
    public string? Site { get; init; }

    /// <summary>Whether the family lives in the state the program serves; null when no state of residence was stated, or the program's
    /// own is not set.</summary>
    public bool? Resident { get; init; }

    /// <summary>County of residence.</summary>
    public string? County { get; init; }
    public string? Insurance { get; init; }
    public string? Language { get; init; }
    public string? RaceEthnicity { get; init; }
    public string? MaternalEducation { get; init; }
    public string? Sex { get; init; }

    /// <summary>The survey's group of the mother's age in years at the birth.</summary>
    public string? MaternalAge { get; init; }

    /// <summary>Groups of the survey's demographic tables (from memory); null when the date is not known or cannot be.</summary>
    public static string? AgeGroup(DateOnly? motherBornOn, DateOnly bornOn)
    {
        if (motherBornOn is not { } mother || mother >= bornOn) return null;
        var years = bornOn.Year - mother.Year - (mother.AddYears(bornOn.Year - mother.Year) > bornOn ? 1 : 0);
        return years switch
        {
            < 8 => null,
            < 15 => "under 15",
            < 20 => "15 to 19",
            < 25 => "20 to 24",
            < 35 => "25 to 34",
            <= 50 => "35 to 50",
            _ => "over 50",
        };
    }
}

/// <summary>
/// One infant as a measure sees it: the facts, the status derived from them as of a day under a policy, the attributes.
/// Facts that happened after the day do not count, whenever they were recorded.
/// </summary>
/// <param name="Status">What <see cref="EvaluateInfant"/> makes of <paramref name="Facts"/> on <paramref name="AsOf"/>.</param>
public sealed record MeasuredInfant(Guid Id, InfantFacts Facts, InfantStatus Status, Attributes Attributes, DateOnly AsOf)
{
    public DateOnly Born => Facts.Birth.Date;

    /// <summary>Born in the region: the population of every measure.</summary>
    public bool BornInRegion => Facts.Birth.Place != BirthPlace.OutOfRegion;

    /// <summary>Born in a hospital or birth center, the places a birth admission exists.</summary>
    public bool BornInFacility => Facts.Birth.Place is BirthPlace.Hospital or BirthPlace.BirthCenter or BirthPlace.MilitaryHospital;

    public DateOnly? DiedOn => Facts.DiedOn is { } day && day <= AsOf ? day : null;

    /// <summary>The discharge home: a transfer is none.</summary>
    public DateOnly? DischargedOn => Status.BirthStay.HomeOn is { } day && day <= AsOf ? day : null;

    /// <summary>Both ears have a result that counts.</summary>
    public bool Screened => Status.ScreeningCategory == SurveyCategory.Completed;

    public bool Passed => Screened && Status.Screening == ScreeningConclusion.Passed;

    public bool NotPassed =>
        Screened && (Status.Screening is ScreeningConclusion.ReferredOneEar or ScreeningConclusion.ReferredBothEars);

    /// <summary>The day both ears first had a result that counts.</summary>
    public DateOnly? ScreenedOn => Screened ? Status.Screened.DoneOn : null;

    /// <summary>The day of the screen that decided between pass and not pass: only tests that count move it.</summary>
    public DateOnly? LastScreenedOn => Screened ? Status.ScreenDecidedOn : null;

    public bool Diagnosed => Status.DiagnosisCategory == SurveyCategory.Completed;

    public DateOnly? DiagnosedOn => Diagnosed ? Status.Diagnosed.DoneOn : null;

    /// <summary>Permanent loss; a provisional one counts once the family is in early intervention for it.</summary>
    public bool PermanentLoss => Status.Hearing == HearingConclusion.PermanentLoss || OnProvisionalLoss;

    /// <summary>The day the permanent loss was confirmed; of one still to be confirmed, the day of the last evaluation.</summary>
    public DateOnly? LossConfirmedOn => !OnProvisionalLoss ? Status.IdentifiedOn
        : Facts.Evaluations.Where(e => e.EvaluatedOn <= AsOf && (e.Right != EarFinding.NotEvaluated || e.Left != EarFinding.NotEvaluated))
            .Max(e => e.EvaluatedOn);

    private bool OnProvisionalLoss => (Status.Flags & StatusFlags.DiagnosisToBeConfirmed) != 0;

    public bool Enrolled => Status.InterventionCategory == SurveyCategory.Completed;

    public DateOnly? EnrolledOn => Enrolled ? Status.Enrolled.DoneOn : null;

    /// <summary>The first event of a kind, or null.</summary>
    public DateOnly? First(InterventionKind kind)
    {
        DateOnly? first = null;
        foreach (var happened in Facts.Interventions)
            if (happened.Kind == kind && happened.HappenedOn <= AsOf && (first is null || happened.HappenedOn < first))
                first = happened.HappenedOn;
        return first;
    }

    /// <summary>The latest move, when it leads out of the program's reach and was not undone by a return.</summary>
    public Move? Gone
    {
        get
        {
            Move? latest = null;
            foreach (var move in Facts.Moves)
                if (move.Kind != MoveKind.HandedOff && move.MovedOn <= AsOf && (latest is not { } known || move.MovedOn >= known.MovedOn))
                    latest = move;
            return latest is { Kind: not (MoveKind.Returned or MoveKind.AdoptedWithinRegion) } ? latest : null;
        }
    }

    /// <summary>A refusal of a step that stands on the as-of date, or stood on an earlier day; or null.</summary>
    public DateOnly? RefusedOn(PathStep step, DateOnly? on = null)
    {
        var day = new Day(on ?? AsOf);
        return Presence.DeclinedOn(step, Facts, ref day);
    }

    /// <summary>A documented medical reason stood in the way of a step on a day.</summary>
    public bool MedicallyDelayed(PathStep step, DateOnly on) =>
        Facts.MedicalDelays.Any(d => d.Step == step && d.FromOn <= on && !(d.EndedOn < on));

    /// <summary>Died before reaching an age in days.</summary>
    public bool DiedBefore(int days) => DiedOn is { } day && day.DayNumber - Born.DayNumber < days;

    /// <summary>Whether <paramref name="day"/> is within <paramref name="deadline"/> counted from birth.</summary>
    public bool Within(DateOnly? day, Deadline deadline) => day is { } done && done <= deadline.LastDay(Born);

    /// <summary>Whether the last day of <paramref name="deadline"/> is over on the as-of date, so that the answer is final.</summary>
    public bool Past(Deadline deadline) => deadline.LastDay(Born) < AsOf;
}
