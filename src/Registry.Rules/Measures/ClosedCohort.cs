namespace Registry.Rules.Measures;

/// <summary>
/// "Done by a last day", counted only over infants for whom that day is over: a cohort still in progress is neither a success
/// nor a failure (the estimates of <see cref="TimeToEvent"/> follow those). Everyone of the population is in the denominator
/// or in exactly one exclusion, and a sum proves it.
/// </summary>
/// <param name="Population">Whom the step concerns.</param>
/// <param name="DoneOn">When the step was done, if it was.</param>
/// <param name="LastDay">Last day in time.</param>
internal sealed record ClosedCohort(
    string Code, string Name,
    Func<MeasuredInfant, bool> Population, Func<MeasuredInfant, DateOnly?> DoneOn, Func<MeasuredInfant, DateOnly> LastDay)
{
    /// <summary>Excluded for a reason of the measure's own, in order after "not yet due". An infant is in the first that holds.</summary>
    public IReadOnlyList<Exclusion> Exclusions { get; init; } = [Exclusion.DiedUndone, Exclusion.MovedUndone];

    internal string Numerator => $"{Code}.in_time";
    internal string Denominator => $"{Code}.due";
    internal string Done => $"{Code}.done";
    internal IReadOnlyList<string> Excluded => [.. AllExclusions.Select(e => $"{Code}.excluded.{e.Code}")];

    private IEnumerable<Exclusion> AllExclusions => Exclusions.Prepend(Exclusion.NotYetDue);

    internal IEnumerable<Line> Lines()
    {
        var exclusions = AllExclusions.ToArray();
        bool Holds(Exclusion e, MeasuredInfant i) => e.Holds(i, DoneOn(i), LastDay(i));
        bool Counted(MeasuredInfant i) => Population(i) && !exclusions.Any(e => Holds(e, i));
        yield return Line.Of($"{Code}.population", $"{Name}: population", Population);
        yield return Line.Of(Denominator, $"{Name}: due", Counted);
        yield return Line.Of(Numerator, $"{Name}: done in time", i => Counted(i) && DoneOn(i) <= LastDay(i));
        yield return Line.Of($"{Code}.late", $"{Name}: done late", i => Counted(i) && DoneOn(i) > LastDay(i));
        yield return Line.Of($"{Code}.not_done", $"{Name}: not done", i => Counted(i) && DoneOn(i) is null);
        yield return Line.Of(Done, $"{Name}: done, in time or late", i => Counted(i) && DoneOn(i) is not null);
        for (var k = 0; k < exclusions.Length; k++)
        {
            var (before, exclusion) = (exclusions[..k], exclusions[k]);
            yield return Line.Of($"{Code}.excluded.{exclusion.Code}", exclusion.Name,
                i => Population(i) && Holds(exclusion, i) && !before.Any(e => Holds(e, i)));
        }
    }

    /// <summary>A line that counts the same population, so that a sum proves it and suppression knows it; or null.</summary>
    public string? SameAs { get; init; }

    internal IEnumerable<Sum> Sums =>
    [
        .. SameAs is null ? Array.Empty<Sum>() : [new($"{Name}: its population", $"{Code}.population", [SameAs])],
        new($"{Name}: due and excluded are the population", $"{Code}.population", [Denominator, .. Excluded]),
        new($"{Name}: in time and late are the done", Done, [Numerator, $"{Code}.late"]),
        new($"{Name}: done and not done are the due", Denominator, [Done, $"{Code}.not_done"]),
    ];

    /// <summary>In time, of those due.</summary>
    internal Ratio Ratio(MeasureGroup group, string page, Source source, Target? target = null) =>
        new(Code, Name, group, Numerator, Denominator, source) { Exclusions = Excluded, Target = target, Page = page };
}

/// <summary>Why an infant of the population does not count.</summary>
/// <param name="Holds">Of the infant, when the step was done, and its last day.</param>
internal sealed record Exclusion(string Code, string Name, Func<MeasuredInfant, DateOnly?, DateOnly, bool> Holds)
{
    internal static Exclusion NotYetDue { get; } = new("not_yet_due", "Not yet due on the as-of date", (i, _, last) => last >= i.AsOf);

    /// <summary>Died before the last day was over, the step not done.</summary>
    internal static Exclusion DiedUndone { get; } =
        new("died", "Died before it was due", (i, done, last) => done is null && i.DiedOn <= last);

    /// <summary>Left the program's reach before the last day was over, the step not done.</summary>
    internal static Exclusion MovedUndone { get; } =
        new("moved", "Moved away before it was due", (i, done, last) => done is null && i.Gone is { } gone && gone.MovedOn <= last);
}
