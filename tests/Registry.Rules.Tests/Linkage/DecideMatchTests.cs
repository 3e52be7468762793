using Registry.Rules.Facts;
using Registry.Rules.Linkage;
using Xunit;

namespace Registry.Rules.Tests.Linkage;

/// <summary>The matching rule as a table. Common practice, no source: the cases are ours.</summary>
public sealed class DecideMatchTests
{
    private static readonly Guid A = Guid.CreateVersion7(), B = Guid.CreateVersion7();
    private static readonly DateOnly Born = new(2026, 3, 14);
    private static readonly DateOnly MotherBorn = new(1994, 7, 2);

    private static readonly Identity Girl = new(Born, "MARLOW", "ADA", MotherBorn, Sex.Female, null, null);
    private static readonly Identity FirstTwin = Girl with { Plurality = 2, BirthOrder = 1 };
    private static readonly Identity SecondTwin = Girl with { Plurality = 2, BirthOrder = 2 };

    private static MatchDecision Birth(Identity row, params MatchCandidate[] candidates) =>
        DecideMatch.Decide(row, true, [], candidates);
    private static MatchDecision Test(Identity row, params MatchCandidate[] candidates) =>
        DecideMatch.Decide(row, false, [], candidates);
    private static MatchCandidate Known(Guid id, Identity identity, bool other = false) => new(id, identity, other);

    private static void Held(HoldReason reason, MatchDecision decision) => Assert.Equal(MatchDecision.Hold(reason), decision);

    // --- identifiers

    [Fact]
    public void An_identifier_alone_decides() =>
        Assert.Equal(MatchDecision.Match(A), DecideMatch.Decide(new Identity(), false, [Known(A, Girl)], []));

    [Theory]
    [InlineData(SiteLink.None)]
    [InlineData(SiteLink.Refused)]
    [InlineData(SiteLink.Agreed)]
    public void An_identifier_of_an_infant_the_site_never_spoke_of_is_as_if_it_were_not_stated(SiteLink link)
    {
        foreach (var row in new[] { new Identity(), Girl with { MotherFamily = null, MotherBornOn = null }, Girl with { BornOn = null },
            Girl with { BornOn = Born.AddDays(1) }, Girl with { MotherFamily = "QUIST", MotherBornOn = null } })
        {
            Held(HoldReason.NoSuchInfant, DecideMatch.Decide(row, false, [Known(A, Girl) with { Link = link }], []));
            Assert.Equal(MatchDecision.Create, DecideMatch.Decide(row, true, [Known(A, Girl) with { Link = link }], []));
        }
    }

    [Fact]
    public void Two_details_corroborate_an_identifier_and_still_only_a_link_or_an_agreement_lets_the_report_through()
    {
        foreach (var row in new Identity[]
            { new() { BornOn = Born, MotherFamily = "MARLOW" }, new() { BornOn = Born, MotherBornOn = MotherBorn } })
        {
            Assert.Equal(MatchDecision.Claim(A, HoldReason.AwaitsConfirmation), With(SiteLink.None));
            Assert.Equal(MatchDecision.Claim(A, HoldReason.NotConfirmed), With(SiteLink.Refused));
            Assert.Equal(MatchDecision.Match(A), With(SiteLink.Agreed));

            MatchDecision With(SiteLink link) => DecideMatch.Decide(row, false, [Known(A, Girl) with { Link = link }], []);
        }
    }

    [Fact]
    public void Whether_the_sex_agrees_is_not_told_to_a_site_without_a_link()
    {
        var row = new Identity { BornOn = Born, MotherFamily = "MARLOW", Sex = Sex.Male };
        Assert.Equal(MatchDecision.Claim(A, HoldReason.AwaitsConfirmation),
            DecideMatch.Decide(row, false, [Known(A, Girl) with { Link = SiteLink.None }], []));
        Held(HoldReason.IdentifierContradicted, DecideMatch.Decide(row, false, [Known(A, Girl) with { Link = SiteLink.Agreed }], []));
    }

    [Fact]
    public void Full_agreement_of_a_site_without_a_link_is_a_claim()
    {
        Assert.Equal(MatchDecision.Claim(A, HoldReason.AwaitsConfirmation), Test(Girl, Known(A, Girl) with { Link = SiteLink.None }));
        Assert.Equal(MatchDecision.Claim(A, HoldReason.AwaitsConfirmation), Birth(Girl, Known(A, Girl) with { Link = SiteLink.None }));
        Assert.Equal(MatchDecision.Match(A) with { ByDetails = true }, Test(Girl, Known(A, Girl) with { Link = SiteLink.Agreed }));
    }

    [Fact]
    public void A_strangers_card_beside_the_sites_own_number_is_not_looked_at() =>
        Assert.Equal(MatchDecision.Match(A),
            DecideMatch.Decide(
                Girl, false, [Known(A, Girl), Known(B, FirstTwin with { BornOn = Born.AddDays(9) }) with { Link = SiteLink.None }], []));

    [Fact]
    public void Two_identifiers_of_one_infant_decide() =>
        Assert.Equal(MatchDecision.Match(A), DecideMatch.Decide(Girl, false, [Known(A, Girl), Known(A, Girl)], []));

    [Fact]
    public void Identifiers_of_two_infants_are_held() =>
        Held(HoldReason.IdentifiersDisagree, DecideMatch.Decide(Girl, true, [Known(A, Girl), Known(B, Girl)], []));

    [Fact]
    public void An_identifier_that_birth_date_sex_or_order_contradicts_is_held()
    {
        foreach (var row in new[] { Girl with { BornOn = Born.AddDays(1) }, Girl with { Sex = Sex.Male },
            FirstTwin with { BirthOrder = 2 } })
            Held(HoldReason.IdentifierContradicted, DecideMatch.Decide(row, true, [Known(A, FirstTwin)], []));
    }

    [Fact]
    public void A_mother_who_changed_her_name_does_not_contradict_an_identifier() =>
        Assert.Equal(MatchDecision.Match(A), DecideMatch.Decide(Girl with { MotherFamily = "OTHER" }, true, [Known(A, Girl)], []));

    [Fact]
    public void What_is_not_stated_contradicts_nothing() =>
        Assert.Equal(MatchDecision.Match(A),
            DecideMatch.Decide(Girl with { Sex = Sex.Unknown, BirthOrder = null }, true, [Known(A, FirstTwin)], []));

    // --- birth date, mother, sex

    [Fact]
    public void Full_agreement_with_one_infant_matches()
    {
        Assert.Equal(MatchDecision.Match(A) with { ByDetails = true }, Test(Girl, Known(A, Girl)));
        Assert.Equal(MatchDecision.Match(A) with { ByDetails = true }, Test(Girl with { MotherGiven = null }, Known(A, Girl)));
        Assert.Equal(MatchDecision.Match(A) with { ByDetails = true }, Test(Girl with { MotherBornOn = null }, Known(A, Girl)));
        Assert.Equal(MatchDecision.Match(A) with { ByDetails = true }, Test(Girl with { MotherFamily = null }, Known(A, Girl)));
    }

    [Fact]
    public void Two_who_agree_fully_are_held() => Held(HoldReason.SeveralCandidates, Test(Girl, Known(A, Girl), Known(B, Girl)));

    [Fact]
    public void One_who_agrees_fully_beside_one_in_part_is_held() =>
        Held(HoldReason.SeveralCandidates, Test(Girl, Known(A, Girl), Known(B, Girl with { MotherGiven = "ADELE" })));

    [Fact]
    public void Too_little_stated_is_held()
    {
        Held(HoldReason.PartialAgreement, Test(Girl with { MotherGiven = null, MotherBornOn = null }, Known(A, Girl)));
        Held(HoldReason.PartialAgreement, Test(Girl with { Sex = Sex.Unknown }, Known(A, Girl)));
    }

    [Fact]
    public void A_difference_beside_two_agreements_is_held_and_beside_one_is_another_infant()
    {
        Held(HoldReason.PartialAgreement, Birth(Girl with { MotherFamily = "MARLO" }, Known(A, Girl)));
        Assert.Equal(MatchDecision.Create, Birth(Girl with { MotherFamily = "QUIST", MotherGiven = "BEA" }, Known(A, Girl)));
        Assert.Equal(MatchDecision.Create, Birth(Girl with { MotherGiven = "BEA", MotherBornOn = MotherBorn.AddYears(1) }, Known(A, Girl)));
    }

    [Fact]
    public void A_single_child_of_the_other_sex_is_held() =>
        Held(HoldReason.PartialAgreement, Birth(Girl with { Sex = Sex.Male }, Known(A, Girl)));

    [Fact]
    public void Another_birth_date_is_another_infant() =>
        Assert.Equal(MatchDecision.Create, Birth(Girl with { BornOn = Born.AddDays(1) }, Known(A, Girl)));

    [Fact]
    public void One_already_known_under_another_number_is_held() => Held(
        HoldReason.PartialAgreement, Birth(Girl, Known(A, Girl, other: true)));

    // --- nobody fits

    [Fact]
    public void A_birth_makes_an_infant_and_anything_else_waits()
    {
        Assert.Equal(MatchDecision.Create, Birth(Girl));
        Held(HoldReason.NoSuchInfant, Test(Girl));
    }

    // --- twins

    [Fact]
    public void Twins_never_merge()
    {
        Assert.Equal(MatchDecision.Create, Birth(SecondTwin, Known(A, FirstTwin)));
        Assert.Equal(MatchDecision.Create, Birth(SecondTwin with { Sex = Sex.Male }, Known(A, FirstTwin)));
        Assert.Equal(MatchDecision.Match(A) with { ByDetails = true }, Birth(FirstTwin, Known(A, FirstTwin), Known(B, SecondTwin)));
        Assert.Equal(MatchDecision.Match(B) with { ByDetails = true }, Test(SecondTwin, Known(A, FirstTwin), Known(B, SecondTwin)));
    }

    [Fact]
    public void A_twin_without_birth_order_is_held()
    {
        Held(HoldReason.BirthOrderMissing, Birth(FirstTwin with { BirthOrder = null }));
        Held(HoldReason.BirthOrderMissing, Birth(FirstTwin with { BirthOrder = null }, Known(A, FirstTwin)));
        Held(HoldReason.BirthOrderMissing, Test(Girl, Known(A, FirstTwin), Known(B, SecondTwin)));
    }

    [Fact]
    public void A_twin_of_the_other_sex_needs_no_order() =>
        Assert.Equal(MatchDecision.Match(B) with { ByDetails = true },
            Test(Girl with { Sex = Sex.Male, BirthOrder = 2 }, Known(A, FirstTwin), Known(B, SecondTwin with { Sex = Sex.Male })));

    [Fact]
    public void No_row_of_one_twin_ever_matches_the_other_whatever_it_leaves_out()
    {
        MatchCandidate[] known = [Known(A, FirstTwin), Known(B, SecondTwin)];
        for (var left = 0; left < 64; left++)
        {
            var row = new Identity(
                Born,
                (left & 1) != 0 ? null : SecondTwin.MotherFamily,
                (left & 2) != 0 ? null : SecondTwin.MotherGiven,
                (left & 4) != 0 ? null : SecondTwin.MotherBornOn,
                (left & 8) != 0 ? Sex.Unknown : SecondTwin.Sex,
                (left & 16) != 0 ? null : 2,
                (left & 32) != 0 ? null : 2);
            Assert.NotEqual(A, Birth(row, known).InfantId);
            Assert.NotEqual(A, Test(row, known).InfantId);
        }
    }
}
