using Registry.Rules.Facts;
using Registry.Rules.Linkage;
using Xunit;

namespace Registry.Rules.Tests.Linkage;

/// <summary>Whether another record may be of the same child or family. Common practice, no source.</summary>
public sealed class CompareFamiliesTests
{
    private static readonly Identity Child = new(new(2026, 1, 10), "lost", "ada", new(1990, 2, 3), Sex.Female, null, null);

    [Fact]
    public void Another_surname_is_still_the_same_child_and_a_name_and_a_day_alone_are_not()
    {
        Assert.Equal(FamilyTie.SameInfant, Tie(Child with { MotherFamily = "newname" }));
        Assert.Equal(FamilyTie.SameInfant, Tie(Child with { MotherGiven = null, MotherBornOn = null }, phone: true));
        Assert.Null(Tie(Child with { MotherGiven = "zoe", MotherBornOn = new(1991, 1, 1) }));
        Assert.Null(Tie(Child with { MotherFamily = null, MotherGiven = null }));
        Assert.Null(Tie(new(null, null, null, null, Sex.Unknown, null, null)));
    }

    [Fact]
    public void A_twin_and_a_child_of_another_day_are_siblings_and_a_card_says_the_same_child()
    {
        Assert.Equal(FamilyTie.Sibling, Tie(Child with { BornOn = new(2024, 5, 1) }));
        Assert.Equal(FamilyTie.Sibling, Tie(Child with { Sex = Sex.Male }));
        Assert.Equal(FamilyTie.Sibling,
            CompareFamilies.Compare(Child with { BirthOrder = 1 }, Child with { BirthOrder = 2 }, false, false)?.Tie);
        Assert.Equal(FamilyTie.SameInfant, Tie(Child with { Sex = Sex.Unknown }));
        Assert.Equal(FamilyTie.Sibling, Tie(new(new(2024, 5, 1), null, null, null, Sex.Unknown, null, null), phone: true));
        Assert.Equal(FamilyTie.SameInfant, Tie(new(new(2026, 1, 11), null, null, null, Sex.Unknown, null, null), card: true));
    }

    [Fact]
    public void What_agrees_is_said()
    {
        Assert.Equal([Agreement.BirthDate, Agreement.MotherGivenName, Agreement.MotherBirthDate, Agreement.Phone],
            CompareFamilies.Compare(Child, Child with { MotherFamily = "newname" }, false, true)!.Value.On);
    }

    private static FamilyTie? Tie(in Identity other, bool card = false, bool phone = false) =>
        CompareFamilies.Compare(Child, other, card, phone)?.Tie;
}
