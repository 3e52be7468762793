using Registry.Rules.Quality;
using Xunit;

namespace Registry.Rules.Tests.Quality;

public sealed class LikeSitesTests
{
    private static readonly SiteTraits[] Sites =
    [
        new("a", "hospital", 1000), new("b", "hospital", 2000), new("c", "hospital", 501), new("d", "hospital", 1100),
        new("e", "hospital", 900), new("f", "hospital", 950), new("g", "hospital", 4000), new("h", "intensive care", 1000),
        new("i", "midwife", 20), new("j", "midwife", 60), new("k", "hospital", 0),
    ];

    [Fact]
    public void Sites_of_the_same_care_with_half_to_twice_the_infants_are_alike_and_a_site_is_not_like_itself() =>
        Assert.Equal(["f", "d", "e", "c", "b"], Like("a"));

    [Fact]
    public void Where_too_few_are_alike_the_nearest_of_the_same_care_are_taken() => Assert.Equal(["b", "d", "a", "f"], Like("g"));

    [Fact]
    public void Where_the_care_is_rare_the_nearest_of_other_care_come_after_it() => Assert.Equal(["j", "c", "e", "f"], Like("i"));

    [Fact]
    public void A_region_with_few_sites_has_no_more() =>
        Assert.Equal("b", Assert.Single(LikeSites.Of(Sites[0], Sites[..2])).Code);

    private static IEnumerable<string> Like(string code) =>
        LikeSites.Of(Sites.Single(s => s.Code == code), Sites).Select(s => s.Code);
}
