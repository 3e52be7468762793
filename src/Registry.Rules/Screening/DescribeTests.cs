using Registry.Rules.Facts;
using Registry.Rules.Milestones;

namespace Registry.Rules.Screening;

/// <summary>What became of one test.</summary>
public enum TestUse
{
    /// <summary>Happened after the as-of day.</summary>
    NotYet,

    /// <summary>The result that counts for its ear.</summary>
    Counts,

    /// <summary>Valid, and a later valid result counts instead.</summary>
    Replaced,
    NoValidResult,
    NotPerformed,

    /// <summary>A pass of one ear where both were wanted in one session: it does not clear.</summary>
    OneEarOnly,

    /// <summary>An OAE pass after an ABR refer of the ear: it does not clear.</summary>
    OaeAfterAbrRefer,

    /// <summary>A pass in a rescreen beyond those offered: it does not clear the failed one.</summary>
    AfterReferredRescreen,

    /// <summary>After an infant who referred began diagnostic evaluation.</summary>
    AfterEvaluation,
    BeforeBirth,
}

internal readonly record struct TestNote(TestUse Use, ScreeningStage Stage, int Session);

/// <summary>
/// One test as a record page shows it. <paramref name="Session"/> counts from 1, 0 for a test in none;
/// <paramref name="Attempt"/> counts the attempts on this ear in this stage from 1; <paramref name="AgeHours"/> is null without
/// a time of birth.
/// </summary>
public sealed record DescribedTest(
    ScreeningTest Test, TestUse Use, ScreeningStage Stage, int Session, int Attempt, int AgeDays, double? AgeHours);

/// <summary>For each test: session, stage, attempt, age, and whether it counts and why not.</summary>
public static class DescribeTests
{
    /// <returns>The tests in time order.</returns>
    public static DescribedTest[] On(InfantFacts facts, Policy policy, DateOnly asOf)
    {
        var day = new Day(asOf);
        var notes = new TestNote[facts.Tests.Length];
        var order = new int[facts.Tests.Length];
        ConcludeScreening.From(facts, policy, ConcludeDiagnosis.FirstEvaluatedOn(facts, ref day), ref day, notes);
        OrderTests.ByTime(facts.Tests, order);

        var described = new List<DescribedTest>(order.Length);
        foreach (var index in order)
        {
            var (test, note) = (facts.Tests[index], notes[index]);
            var earlier = described.Count(d => d.Session > 0 && d.Stage == note.Stage && d.Test.Ear == test.Ear);
            var attempt = note.Session == 0 ? 0 : 1 + earlier;
            described.Add(new(test, note.Use, note.Stage, note.Session, attempt,
                Age.Days(facts.Birth.Date, DateOnly.FromDateTime(test.PerformedAt)),
                    Age.Hours(facts.Birth, test.PerformedAt, policy.Zone)));
        }

        return [.. described];
    }
}
