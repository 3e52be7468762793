using Registry.Facts;
using Registry.Rules.Facts;

namespace Registry.Tests.Facts;

/// <summary>Who is called, and who may not be told, from what was said: the newest statement of each thing holds.</summary>
public sealed class FamilyNowTests
{
    private static readonly ReportedBirth Birth = new(new(2026, 9, 1), Sex.Female)
    {
        MotherGivenName = "Ada",
        MotherFamilyName = "Marlow",
        ContactPhone = "555 010 0101",
        Language = "es",
        PostDischargeProvider = "Dr. Quist",
        Insurance = "medicaid",
    };

    [Fact]
    public void A_birth_alone_gives_the_mother_the_provider_and_the_insurance()
    {
        var family = Now(Birth);
        Assert.Equal(("Ada Marlow", "555 010 0101", "es"), (family.Mother!.Name, family.Mother.Phone, family.Mother.Language));
        Assert.Equal(("Dr. Quist", "medicaid", null), (family.Care.PrimaryCare, family.Care.Insurance, family.Care.PrimaryCareConfirmed));
        Assert.Equal(FamilyRelation.Mother, family.BestToCall!.Kind);
        Assert.Empty(Now().People);
        Assert.Null(Now().BestToCall);
    }

    [Fact]
    public void Of_each_thing_the_newest_statement_that_says_it_holds()
    {
        var family = Now(
            Birth,
            Of(FamilyRelation.Mother, 3) with { Phone = "555 010 0199", PhoneUse = PhoneUse.Mobile, City = "Lindmere", Street = "Quay 1" },
            Of(FamilyRelation.Mother, 2) with { Phone = "555 010 0150", PhoneUse = PhoneUse.Home, InterpreterNeeded = true },
            Of(FamilyRelation.Mother, 4) with { City = "Tarnbrook" });
        var mother = family.Mother!;
        Assert.Equal(("Ada Marlow", "555 010 0199", PhoneUse.Mobile), (mother.Name, mother.Phone, mother.PhoneUse!.Value));
        Assert.True(mother.InterpreterNeeded);
        // An address is one thing: the street of the town before is not that of the new one.
        Assert.Equal(("Tarnbrook", null), (mother.City, mother.Street));
    }

    [Fact]
    public void An_undated_statement_is_of_the_day_it_was_recorded()
    {
        var undated = Of(FamilyRelation.Mother, null) with { Phone = "555 010 0002" };
        var dated = Of(FamilyRelation.Mother, 5) with { Phone = "555 010 0001" };
        Assert.Equal("555 010 0002", Recorded((dated, 1), (undated, 6)).Mother!.Phone);
        Assert.Equal("555 010 0001", Recorded((dated, 1), (undated, 4)).Mother!.Phone);
    }

    [Fact]
    public void Where_an_agency_holds_custody_it_is_called_and_nobody_else()
    {
        var family = Now(Birth,
            Of(FamilyRelation.Agency, 2) with { Name = "Lind child protection", Phone = "555 010 0300", HoldsCustody = true },
            Of(FamilyRelation.Grandparent, 2) with { Name = "Ida Berg", Phone = "555 010 0400" });
        Assert.Equal([FamilyRelation.Agency], family.ToCall.Select(p => p.Kind));
        Assert.Equal("555 010 0300", family.BestToCall!.Phone);
        Assert.False(family.MotherMayBeWrittenTo);

        // Unless it was said that they may be told; and when it ends, the mother decides again.
        Assert.Equal([FamilyRelation.Agency, FamilyRelation.Mother], Now(Birth,
            Of(FamilyRelation.Agency, 2) with { HoldsCustody = true },
            Of(FamilyRelation.Mother, 3) with { MayBeTold = true }).ToCall.Select(p => p.Kind));
        Assert.Equal([FamilyRelation.Mother, FamilyRelation.Agency], Now(Birth,
            Of(FamilyRelation.Agency, 2) with { HoldsCustody = true },
            Of(FamilyRelation.Agency, 3) with { HoldsCustody = false }).ToCall.Select(p => p.Kind));
        // An agency without a number: the mother's is not shown in its place.
        Assert.Null(Now(Birth, Of(FamilyRelation.Agency, 2) with { HoldsCustody = true }).BestToCall);
    }

    [Fact]
    public void Who_may_not_be_told_is_never_called_nor_written_to()
    {
        var family = Now(Birth, Of(FamilyRelation.Father, 2) with { Phone = "555 010 0200" },
            Of(FamilyRelation.Mother, 3) with { MayBeTold = false });
        Assert.Equal([FamilyRelation.Father], family.ToCall.Select(p => p.Kind));
        Assert.Equal([FamilyRelation.Mother], family.NotTold.Select(p => p.Kind));
        Assert.False(family.MotherMayBeWrittenTo);

        // Another spelling of her name does not open it; a later statement does.
        var renamed = Of(FamilyRelation.Mother, 4) with { Name = "Ada Marlow-Quist", Phone = "555 010 0999" };
        Assert.False(Now(Birth, Of(FamilyRelation.Mother, 3) with { MayBeTold = false }, renamed).MotherMayBeWrittenTo);
        Assert.True(Now(Birth, Of(FamilyRelation.Mother, 3) with { MayBeTold = false }, renamed,
            Of(FamilyRelation.Mother, 5) with { MayBeTold = true }).MotherMayBeWrittenTo);
    }

    [Fact]
    public void A_guardian_of_another_name_is_somebody_else()
    {
        var family = Now(
            Of(FamilyRelation.FosterParent, 2) with { Name = "Nora Berg", Phone = "555 010 0500", HoldsCustody = true, Language = "da" },
            Of(FamilyRelation.FosterParent, 3) with { Name = "Ines Tarn" });
        var foster = Assert.Single(family.People);
        Assert.Equal(("Ines Tarn", null, null, true), (foster.Name, foster.Phone, foster.Language, foster.HoldsCustody));
        // The same name otherwise written is the same person.
        Assert.Equal("555 010 0500", Now(
            Of(FamilyRelation.FosterParent, 2) with { Name = "Nora Berg", Phone = "555 010 0500" },
            Of(FamilyRelation.FosterParent, 3) with { Name = "NORA BERG" }).People[0].Phone);
    }

    [Fact]
    public void Of_grandparents_there_may_be_several() => Assert.Equal(["Ida Berg", "Joan Quist"], Now(
        Of(FamilyRelation.Grandparent, 2) with { Name = "Joan Quist" }, Of(FamilyRelation.Grandparent, 3) with { Name = "Ida Berg" })
        .People.Select(p => p.Name));

    [Fact]
    public void Another_provider_is_not_the_one_that_was_confirmed()
    {
        var berg = new ReportedCare(Day(2)) { PrimaryCare = "Dr. Berg", PrimaryCarePhone = "555 010 0700", PrimaryCareConfirmed = true };
        var care = Now(Birth, berg, new ReportedCare(Day(3)) { Insurance = "private" }).Care;
        Assert.Equal(("Dr. Berg", true, "private"), (care.PrimaryCare, care.PrimaryCareConfirmed, care.Insurance));
        var another = Now(Birth, berg, new ReportedCare(Day(3)) { PrimaryCare = "Dr. Tarn" }).Care;
        Assert.Equal(("Dr. Tarn", null, null), (another.PrimaryCare, another.PrimaryCareConfirmed, another.PrimaryCarePhone));
    }

    private static DateOnly Day(int day) => new(2026, 11, day);

    private static ReportedFamilyContact Of(FamilyRelation relation, int? day) => new(relation, day is { } d ? Day(d) : null);

    private static FamilyNow Now(params ReportedFact[] facts) => Recorded([.. facts.Select(f => (f, 20))]);

    private static FamilyNow Recorded(params (ReportedFact Fact, int Day)[] facts) =>
        FamilyNow.Of(facts.Select(f => (f.Fact, new DateTimeOffset(2026, 11, f.Day, 12, 0, 0, TimeSpan.Zero))));
}
