using Registry.Rules.Chance;
using Registry.Rules.Facts;
using Registry.Rules.Tests.Oracle;
using Registry.Rules.Work;
using Xunit;

namespace Registry.Rules.Tests.Chance;

/// <summary>What a case is, what came of it, and what a chance does in the work of a day.</summary>
public sealed class ChanceOfLossTests
{
    private static readonly DateOnly Born = new(2026, 3, 10);
    private static readonly DateOnly Later = new(2028, 1, 1);
    private static readonly LossTraits Harbour = new("harbour", "Lind", "Mere", null, "Public", Phones: 0);
    private static readonly Policy Uses = Policy.Default with { ChanceOfLossDays = 20 };

    private static readonly KnownChance Chance = new(
        new(-1, [new(LossFactor.Phone, "0", 100, 1.2), new(LossFactor.Age, "60", 100, 0.8), new(LossFactor.Tries, "1", 50, 0.5)]),
        Harbour);

    private static InfantFacts Referred() => new()
    {
        Birth = new(Born, new(8, 0)) { DischargedOn = Born.AddDays(2), NicuAdmittedOn = Born },
        Tests = [Test(Ear.Right, ScreeningOutcome.Refer, 1), Test(Ear.Left, ScreeningOutcome.Pass, 1),
            Test(Ear.Right, ScreeningOutcome.Refer, 20), Test(Ear.Left, ScreeningOutcome.Pass, 20)],
    };

    [Fact]
    public void A_case_says_what_was_known_on_its_day_and_nothing_later()
    {
        var facts = Referred() with
        {
            ContactAttempts = [new(PathStep.Diagnosis, Born.AddDays(25), ContactOutcome.NoResponse)],
            Appointments = [new(PathStep.Diagnosis, Born.AddDays(50), AppointmentEvent.NoShow, Born.AddDays(50))],
        };
        var early = On(facts, 30)!;
        Assert.Equal(("diagnosis", "30", "0", "referred_one_ear", "yes", "1", "no"), (early[LossFactor.Step], early[LossFactor.Age],
            early[LossFactor.FirstTest], early[LossFactor.Result], early[LossFactor.Nicu], early[LossFactor.Tries],
            early[LossFactor.NoShow]));
        Assert.Equal(("0", "mere", "yes", "harbour", "not_recorded", "public"), (early[LossFactor.Phone], early[LossFactor.County],
            early[LossFactor.OtherCounty], early[LossFactor.Site], early[LossFactor.Language], early[LossFactor.Insurance]));
        var found = facts with { Evaluations = [new(Born.AddDays(70), EarFinding.Normal, EarFinding.Normal)] };
        Assert.Equal(early.Levels, On(found, 30)!.Levels);
        Assert.Equal("yes", On(facts, 50)![LossFactor.NoShow]);
        Assert.Null(On(found, 70)); // nothing is due
        Assert.Null(On(facts, 400)); // lost already
    }

    [Fact]
    public void A_family_counts_by_its_phones_its_interpreter_and_who_decides()
    {
        var facts = Referred();
        string Levels(LossTraits traits) => LossCase.Of(facts, EvaluateInfant.Evaluate(facts, Policy.Default, Born.AddDays(30)), traits,
            Born.AddDays(30)) is { } one ? $"{one[LossFactor.Phone]} {one[LossFactor.Interpreter]} {one[LossFactor.Guardian]}" : "";
        Assert.Equal("0 not_recorded no", Levels(Harbour));
        Assert.Equal("1 yes no", Levels(Harbour with { Phones = 1, InterpreterNeeded = true }));
        Assert.Equal("2 no yes", Levels(Harbour with { Phones = 2, InterpreterNeeded = false, HasGuardian = true }));
        Assert.Equal("2 not_recorded no", Levels(Harbour with { Phones = 5 }));
    }

    [Fact]
    public void A_past_case_was_lost_or_came()
    {
        var lost = ReadLossHistory.Of(default, Referred(), _ => Harbour, Policy.Default, Later).ToList();
        Assert.NotEmpty(lost);
        Assert.All(lost, c => Assert.True(c.Lost));
        var came = Referred() with { Evaluations = [new(Born.AddDays(70), EarFinding.Normal, EarFinding.Normal)] };
        var cases = ReadLossHistory.Of(default, came, _ => Harbour, Policy.Default, Later).ToList();
        Assert.NotEmpty(cases);
        Assert.All(cases, c => Assert.False(c.Lost));
        // Who moved away or died is not lost.
        Assert.All(ReadLossHistory.Of(default, Referred() with { DiedOn = Born.AddDays(40) }, _ => Harbour, Policy.Default, Later),
            c => Assert.False(c.Lost));
        // The end of the last case is not over, or nothing is known of the birth.
        Assert.Empty(ReadLossHistory.Of(default, Referred(), _ => Harbour, Policy.Default, Born.AddDays(150)));
        Assert.Empty(ReadLossHistory.Of(default, Referred(), _ => null, Policy.Default, Later));
    }

    [Fact]
    public void A_chance_moves_an_infant_forward_within_its_work_and_says_why()
    {
        var (plain, likely) = (Place(Referred(), 30, null, Uses), Place(Referred(), 30, Chance, Uses));
        Assert.True(likely.Rank < plain.Rank);
        Assert.Equal(plain.Tray, likely.Tray);
        Assert.Equal(new(WorkReasonKind.ChanceOfLoss, null, 11, 55, "phone"), likely.Reasons[^1]);
        Assert.Equal(plain.Reasons, likely.Reasons.SkipLast(1));
    }

    /// <summary>Words say "fewer than two phone numbers": never of a family that has two, whatever the history made of it.</summary>
    [Fact]
    public void Only_what_is_so_is_named_as_a_reason()
    {
        LossModel odd = new(-1, [new(LossFactor.Phone, "2", 100, 2), new(LossFactor.Phone, "0", 100, -2),
            new(LossFactor.Tries, "none", 100, 1.5), new(LossFactor.NoShow, "no", 100, 1.4), new(LossFactor.County, "mere", 50, 0.5)]);
        var reasons = Place(Referred(), 30, new(odd, Harbour with { Phones = 3 }), Uses).Reasons;
        Assert.Equal("county", reasons[^1].Because);
    }

    [Fact]
    public void Without_the_policys_days_it_is_neither_used_nor_said()
    {
        Assert.Equal(0, Policy.Default.ChanceOfLossDays);
        var (plain, off) = (Place(Referred(), 30, null, Policy.Default), Place(Referred(), 30, Chance, Policy.Default));
        Assert.Equal(plain.Rank, off.Rank);
        Assert.Equal(plain.Reasons, off.Reasons);
    }

    [Fact]
    public void It_hides_nobody_and_leaves_everybody_in_the_same_work()
    {
        var generated = new GeneratedInfants(23);
        for (var i = 0; i < 1_000; i++)
        {
            var (facts, policy, asOf) = generated.Next();
            policy = policy with { ChanceOfLossDays = 30 };
            var status = EvaluateInfant.Evaluate(facts, policy, asOf);
            var plain = SortWork.Place(facts, status, policy, asOf);
            var likely = SortWork.Place(facts, status, policy, asOf, chance: Chance);
            Assert.Equal((plain?.Tray, plain?.Step, plain?.DueOn), (likely?.Tray, likely?.Step, likely?.DueOn));
            if (likely?.Tray == WorkTray.SearchAgain) Assert.Equal(plain!.Rank, likely.Rank);
        }
    }

    [Fact]
    public void Until_the_day_of_its_change_a_chance_stays_what_it_is()
    {
        var generated = new GeneratedInfants(29);
        for (var i = 0; i < 600; i++)
        {
            var (facts, policy, asOf) = generated.Next();
            policy = policy with { ChanceOfLossDays = 60 };
            var status = EvaluateInfant.Evaluate(facts, policy, asOf);
            if (SortWork.Place(facts, status, policy, asOf, chance: Chance) is not { } place) continue;
            var until = new[] { status.NextChangeOn, place.ChangesOn, asOf.AddDays(200) }.Min()!.Value;
            for (var day = asOf.AddDays(1); day < until; day = day.AddDays(1))
            {
                var then = SortWork.Place(facts, status, policy, day, chance: Chance)!;
                Assert.Equal(place.Rank, then.Rank);
                Assert.Equal(place.Reasons, then.Reasons);
            }
        }
    }

    private static LossCase? On(InfantFacts facts, int day) =>
        LossCase.Of(facts, EvaluateInfant.Evaluate(facts, Policy.Default, Born.AddDays(day)), Harbour, Born.AddDays(day));

    private static WorkPlace Place(InfantFacts facts, int day, KnownChance? chance, Policy policy)
    {
        var asOf = Born.AddDays(day);
        return SortWork.Place(facts, EvaluateInfant.Evaluate(facts, policy, asOf), policy, asOf, chance: chance)!;
    }

    private static ScreeningTest Test(Ear ear, ScreeningOutcome outcome, int day) =>
        new(ear, outcome, Born.AddDays(day).ToDateTime(new(10, 0))) { Method = ScreeningMethod.Aabr };
}
