using Registry.Rules.Facts;
using Registry.Rules.Screening;

namespace Registry.Rules.Measures;

/// <summary>
/// Result of the birth admission by result of the outpatient screens after it, as the survey asks (OMB 0920-0733, tables of 2016). Each
/// by the last valid result of each ear; a test's stage is the reported one, else it follows from the dates. Every birth is in one line.
/// </summary>
internal static class ScreeningPath
{
    private static readonly (string Code, string Name)[] Results =
        [("pass", "pass"), ("not_pass", "not pass"), ("incomplete", "one ear only"), ("none", "no valid result")];

    internal static IEnumerable<Line> Lines { get; } =
    [
        .. Results.Select(a => Line.Of($"screening.path.{a.Code}", $"Birth admission: {a.Name}",
            i => i.BornInRegion && Of(i, ScreeningStage.BirthAdmission) == a.Code)),
        .. from a in Results
           from o in Results
           select Line.Of($"screening.path.{a.Code}.{o.Code}", $"Birth admission: {a.Name}; outpatient: {o.Name}",
               i => i.BornInRegion && Of(i, ScreeningStage.BirthAdmission) == a.Code && Of(i, ScreeningStage.OutpatientRescreen) == o.Code),
    ];

    internal static IEnumerable<Sum> Sums { get; } =
    [
        new("Results of the birth admission are the births", "births", [.. Results.Select(a => $"screening.path.{a.Code}")]),
        .. Results.Select(a => new Sum($"Birth admission, {a.Name}: the outpatient results", $"screening.path.{a.Code}",
            [.. Results.Select(o => $"screening.path.{a.Code}.{o.Code}")])),
    ];

    private static string Of(MeasuredInfant infant, ScreeningStage stage)
    {
        var (right, left) = (Last(infant, stage, Ear.Right), Last(infant, stage, Ear.Left));
        return (right, left) switch
        {
            (null, null) => "none",
            (ScreeningOutcome.Refer, _) or (_, ScreeningOutcome.Refer) => "not_pass",
            (null, _) or (_, null) => "incomplete",
            _ => "pass",
        };
    }

    /// <summary>The last valid result of an ear; of two at one time the refer stands.</summary>
    private static ScreeningOutcome? Last(MeasuredInfant infant, ScreeningStage stage, Ear ear)
    {
        ScreeningTest? last = null;
        foreach (var test in infant.Facts.Tests)
        {
            if (test.Ear != ear || test.Outcome is not (ScreeningOutcome.Pass or ScreeningOutcome.Refer)
                || DateOnly.FromDateTime(test.PerformedAt) > infant.AsOf
                || DeriveStage.Of(test, infant.Status.BirthStay, infant.Facts.Birth, Policy.Default) != stage) continue;
            if (last is not { } known || test.PerformedAt > known.PerformedAt
                || (test.PerformedAt == known.PerformedAt && test.Outcome == ScreeningOutcome.Refer)) last = test;
        }

        return last?.Outcome;
    }
}
