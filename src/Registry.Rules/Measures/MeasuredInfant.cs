using Registry.Rules.Facts;

namespace Registry.Rules.Measures;

/// <summary>What a figure can be broken down by, as reported at birth; null when it was not stated.</summary>
public sealed record Attributes
{
    /// <summary>Code of the birth site.</summary>
    public string? Site { get; init; }

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
    public bool BornInFacility => Facts.Birth.Place is BirthPlace.Hospital or BirthPlace.BirthCenter;

    public DateOnly? DiedOn => Facts.DiedOn is { } day && day <= AsOf ? day : null;

    public DateOnly? DischargedOn => Facts.Birth.DischargedOn is { } day && day <= AsOf ? day : null;

    /// <summary>Both ears have a result that counts.</summary>
    public bool Screened => Status.ScreeningCategory == SurveyCategory.Completed;

    public bool Passed => Screened && Status.Screening == ScreeningConclusion.Passed;

    public bool NotPassed =>
        Screened && (Status.Screening is ScreeningConclusion.ReferredOneEar or ScreeningConclusion.ReferredBothEars);

    /// <summary>The day both ears first had a result that counts.</summary>
    public DateOnly? ScreenedOn => Screened ? Status.Screened.DoneOn : null;

    /// <summary>The day of the most recent valid screen, which decides between pass and not pass.</summary>
    public DateOnly? LastScreenedOn
    {
        get
        {
            if (!Screened) return null;
            DateOnly? last = null;
            foreach (var test in Facts.Tests)
            {
                var day = DateOnly.FromDateTime(test.PerformedAt);
                if (test.Outcome is ScreeningOutcome.Pass or ScreeningOutcome.Refer && day <= AsOf && (last is null || day > last))
                    last = day;
            }

            return last ?? ScreenedOn;
        }
    }

    public bool Diagnosed => Status.DiagnosisCategory == SurveyCategory.Completed;

    public DateOnly? DiagnosedOn => Diagnosed ? Status.Diagnosed.DoneOn : null;

    public bool PermanentLoss => Status.Hearing == HearingConclusion.PermanentLoss;

    /// <summary>The day the permanent loss was confirmed.</summary>
    public DateOnly? LossConfirmedOn => Status.IdentifiedOn;

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
                if (move.MovedOn <= AsOf && (latest is not { } known || move.MovedOn >= known.MovedOn))
                    latest = move;
            return latest is { Kind: not MoveKind.Returned } ? latest : null;
        }
    }

    /// <summary>A standing refusal of a step, or null.</summary>
    public DateOnly? RefusedOn(PathStep step)
    {
        DateOnly? refused = null;
        foreach (var refusal in Facts.Refusals)
            if (refusal.Step == step && refusal.RefusedOn <= AsOf && !(refusal.RevokedOn <= AsOf)
                && (refused is null || refusal.RefusedOn < refused))
                refused = refusal.RefusedOn;
        return refused;
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
