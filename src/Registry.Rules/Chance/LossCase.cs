using Registry.Rules.Facts;
using Registry.Rules.Work;

namespace Registry.Rules.Chance;

/// <summary>An infant with a step due and not lost, as known on a day.</summary>
/// <param name="Levels">The level of each <see cref="LossFactor"/>, in their order.</param>
public sealed record LossCase(IReadOnlyList<string> Levels)
{
    private const string NotRecorded = "not_recorded";

    public string this[LossFactor factor] => Levels[(int)factor];

    /// <returns>Null where no step is due at which an infant can be lost, or it is lost already.</returns>
    public static LossCase? Of(InfantFacts facts, InfantStatus status, LossTraits traits, DateOnly asOf)
    {
        var day = new Day(asOf);
        return Of(facts, status, traits, ref day);
    }

    internal static LossCase? Of(InfantFacts facts, InfantStatus status, LossTraits traits, ref Day day)
    {
        if (status.Loss != LossState.None || StepDue(status) is not { } step) return null;
        var born = facts.Birth.Date;
        var levels = new string[Enum.GetValues<LossFactor>().Length];
        levels[(int)LossFactor.Step] = Codes.Of(step);
        levels[(int)LossFactor.Age] = day.Reached(born.AddDays(180)) ? "180" : day.Reached(born.AddDays(90)) ? "90"
            : day.Reached(born.AddDays(60)) ? "60" : day.Reached(born.AddDays(30)) ? "30" : "0";
        levels[(int)LossFactor.FirstTest] = FirstTest(facts, ref day);
        levels[(int)LossFactor.Result] = Codes.Of(status.Screening);
        levels[(int)LossFactor.Nicu] = YesNo(facts.Birth.NicuAdmittedOn is not null);
        levels[(int)LossFactor.Tries] = Tries(facts, step, ref day);
        levels[(int)LossFactor.NoShow] = YesNo(NoShow(facts, ref day));
        levels[(int)LossFactor.Phone] = traits.Phones switch { 0 => "0", 1 => "1", _ => "2" };
        levels[(int)LossFactor.County] = Stated(traits.County);
        levels[(int)LossFactor.OtherCounty] = traits.County is null || traits.SiteCounty is null ? NotRecorded
            : YesNo(!string.Equals(traits.County, traits.SiteCounty, StringComparison.OrdinalIgnoreCase));
        levels[(int)LossFactor.Site] = traits.Site;
        levels[(int)LossFactor.Language] = Stated(traits.Language);
        levels[(int)LossFactor.Insurance] = Stated(traits.Insurance);
        levels[(int)LossFactor.Interpreter] = traits.InterpreterNeeded is { } needed ? YesNo(needed) : NotRecorded;
        levels[(int)LossFactor.Guardian] = YesNo(traits.HasGuardian);
        return new(levels);
    }

    /// <summary>The level of a text as it was recorded.</summary>
    internal static string Stated(string? text) => string.IsNullOrWhiteSpace(text) ? NotRecorded : text.Trim().ToLowerInvariant();

    /// <summary>The step of the path that is due first, of those at which the survey counts infants as lost.</summary>
    private static PathStep? StepDue(InfantStatus status)
    {
        foreach (var due in status.Dues)
            if (due.Step is DueStep.Screen or DueStep.CompleteScreen or DueStep.Rescreen or DueStep.DiagnosticEvaluation
                or DueStep.CompleteDiagnosis or DueStep.ReferToIntervention or DueStep.EnrolInIntervention)
                return WorkPlace.PathOf(due.Step);
        return null;
    }

    private static string FirstTest(InfantFacts facts, ref Day day)
    {
        DateOnly? first = null;
        foreach (var test in facts.Tests)
            if (DateOnly.FromDateTime(test.PerformedAt) is var on && !(on >= first) && day.Reached(on)) first = on;
        return first is null ? "none" : (first.Value.DayNumber - facts.Birth.Date.DayNumber) switch { < 3 => "0", < 30 => "3", _ => "30" };
    }

    /// <summary>How many tries in a row reached nobody, since somebody was last reached about the step.</summary>
    private static string Tries(InfantFacts facts, PathStep step, ref Day day)
    {
        var (tries, answeredOn) = (0, DateOnly.MinValue);
        foreach (var attempt in facts.ContactAttempts)
            if (attempt.Step == step && attempt.Outcome is ContactOutcome.Reached or ContactOutcome.AppointmentMade
                && attempt.AttemptedOn > answeredOn && day.Reached(attempt.AttemptedOn)) answeredOn = attempt.AttemptedOn;
        foreach (var attempt in facts.ContactAttempts)
            if (attempt.Step == step && attempt.Outcome is ContactOutcome.NoResponse or ContactOutcome.UnableToContact
                && attempt.AttemptedOn > answeredOn && day.Reached(attempt.AttemptedOn)) tries++;
        return tries switch { 0 => answeredOn == DateOnly.MinValue ? "none" : "answered", 1 => "1", 2 => "2", _ => "3" };
    }

    private static bool NoShow(InfantFacts facts, ref Day day)
    {
        foreach (var appointment in facts.Appointments)
            if (appointment.Kind == AppointmentEvent.NoShow && day.Reached(appointment.HappenedOn)) return true;
        return false;
    }

    private static string YesNo(bool yes) => yes ? "yes" : "no";
}
