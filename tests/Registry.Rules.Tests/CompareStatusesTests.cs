using Registry.Rules.Facts;
using Xunit;

namespace Registry.Rules.Tests;

/// <summary>What counts as a change between two policies or two days.</summary>
public sealed class CompareStatusesTests
{
    private static readonly DateOnly Born = new(2026, 1, 10);

    private static InfantStatus At(DateOnly day, Policy policy, params ScreeningTest[] tests) =>
        EvaluateInfant.Evaluate(new InfantFacts { Birth = new Birth(Born, null), Tests = [.. tests] }, policy, day);

    private static ScreeningTest Test(Ear ear, ScreeningOutcome outcome) =>
        new(ear, outcome, Born.AddDays(1).ToDateTime(new TimeOnly(10, 0))) { Method = ScreeningMethod.Aabr };

    [Fact]
    public void The_same_status_has_no_change() =>
        Assert.Empty(CompareStatuses.Changes(At(Born.AddDays(40), Policy.Default), At(Born.AddDays(40), Policy.Default)));

    [Fact]
    public void An_earlier_deadline_that_has_passed_changes_the_milestone()
    {
        // Born 10 January, both ears referred: the diagnosis is due by 10 April, under 1-2-3 by 10 March.
        var tests = new[] { Test(Ear.Right, ScreeningOutcome.Refer), Test(Ear.Left, ScreeningOutcome.Refer) };
        var day = new DateOnly(2026, 3, 20);
        var changes = CompareStatuses.Changes(At(day, Policy.Default, tests), At(day, Policy.OneTwoThree, tests)).ToList();
        Assert.Contains(new StatusChange(StatusAspect.Diagnosed, "pending", "missed"), changes);
        Assert.DoesNotContain(changes, c => c.Aspect is StatusAspect.Screening or StatusAspect.Screened or StatusAspect.Hearing);
    }

    [Fact]
    public void A_deadline_that_moves_what_is_due_is_a_change_of_due_dates()
    {
        var tests = new[] { Test(Ear.Right, ScreeningOutcome.Refer), Test(Ear.Left, ScreeningOutcome.Refer) };
        var day = new DateOnly(2026, 3, 1);
        var changes = CompareStatuses.Changes(At(day, Policy.Default, tests), At(day, Policy.OneTwoThree, tests)).ToList();
        Assert.Equal([new StatusChange(StatusAspect.DueDates, "", "")], changes);
    }

    [Fact]
    public void A_deadline_nobody_waits_for_is_no_change()
    {
        var passed = new[] { Test(Ear.Right, ScreeningOutcome.Pass), Test(Ear.Left, ScreeningOutcome.Pass) };
        Assert.Empty(CompareStatuses.Changes(At(Born.AddDays(80), Policy.Default, passed),
            At(Born.AddDays(80), Policy.OneTwoThree, passed)));
    }
}
