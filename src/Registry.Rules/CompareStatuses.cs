using Registry.Rules.Facts;

namespace Registry.Rules;

/// <summary>What about an infant's status can change.</summary>
public enum StatusAspect
{
    Screening,
    Screened,
    Diagnosed,
    Enrolled,
    Hearing,
    Loss,

    /// <summary>The soonest due step is another.</summary>
    NextStep,

    /// <summary>The same next step, but what is due, or by when, differs.</summary>
    DueDates,

    /// <summary>A flag was set or cleared.</summary>
    Flags,
}

/// <summary>One difference, from one coded value (<see cref="Codes"/>) to another; both empty where there is no single value.</summary>
public readonly record struct StatusChange(StatusAspect Aspect, string From, string To);

/// <summary>What differs between two statuses of one infant: under two policies, or on two days.</summary>
public static class CompareStatuses
{
    /// <returns>At most one change of each aspect; empty when nothing a person would act on differs. A deadline that moves without
    /// changing a state or anything due is no change.</returns>
    public static IEnumerable<StatusChange> Changes(InfantStatus before, InfantStatus after)
    {
        if (before.Screening != after.Screening)
            yield return new(StatusAspect.Screening, Codes.Of(before.Screening), Codes.Of(after.Screening));
        if (before.Screened.State != after.Screened.State)
            yield return new(StatusAspect.Screened, Codes.Of(before.Screened.State), Codes.Of(after.Screened.State));
        if (before.Diagnosed.State != after.Diagnosed.State)
            yield return new(StatusAspect.Diagnosed, Codes.Of(before.Diagnosed.State), Codes.Of(after.Diagnosed.State));
        if (before.Enrolled.State != after.Enrolled.State)
            yield return new(StatusAspect.Enrolled, Codes.Of(before.Enrolled.State), Codes.Of(after.Enrolled.State));
        if (before.Hearing != after.Hearing) yield return new(StatusAspect.Hearing, Codes.Of(before.Hearing), Codes.Of(after.Hearing));
        if (before.Loss != after.Loss) yield return new(StatusAspect.Loss, Codes.Of(before.Loss), Codes.Of(after.Loss));

        DueStep? stepBefore = before.Dues.Length > 0 ? before.Dues[0].Step : null;
        DueStep? stepAfter = after.Dues.Length > 0 ? after.Dues[0].Step : null;
        if (stepBefore != stepAfter)
            yield return new(StatusAspect.NextStep, stepBefore is { } b ? Codes.Of(b) : "", stepAfter is { } a ? Codes.Of(a) : "");
        else if (!before.Dues.Select(d => (d.Step, d.DueOn)).SequenceEqual(after.Dues.Select(d => (d.Step, d.DueOn))))
            yield return new(StatusAspect.DueDates, "", "");
        if (before.Flags != after.Flags) yield return new(StatusAspect.Flags, "", "");
    }
}
