using Registry.Platform;

namespace Registry.Tests.Facts;

/// <summary>States by code and name: the published list of ISO 3166-2 (npm package iso-3166 4.4.0). Its codes and names of the United
/// States, Canada and Mexico were held against another published one (Debian iso-codes 4.15.0): the same 57, 13 and 32 codes, and one
/// name written otherwise.</summary>
public sealed class StatesTests
{
    [Theory]
    [InlineData("NY", "NY"), InlineData("us-ny", "NY"), InlineData(" New York ", "NY"), InlineData("puerto rico", "PR")]
    [InlineData("CA", "CA"), InlineData("CA-ON", "CA-ON"), InlineData("Ontario", "Ontario"), InlineData("mx-son", "MX-SON")]
    [InlineData("Lindmere", "Lindmere"), InlineData("ZZ", "ZZ"), InlineData(null, null)]
    public void A_state_has_one_code(string? stated, string? code) => Assert.Equal(code, States.CodeOf(stated));

    [Theory]
    [InlineData("NY", "New York"), InlineData("US-DC", "District of Columbia"), InlineData("CA-ON", "Ontario")]
    [InlineData("Lindmere", "Lindmere"), InlineData(null, null)]
    public void It_is_shown_by_its_name(string? stated, string? name) => Assert.Equal(name, States.NameOf(stated));

    /// <summary>Fifty states, the District of Columbia and six outlying areas (ISO 3166-2:US).</summary>
    [Fact]
    public void Fifty_seven_are_offered() => Assert.Equal(57, States.Near.Distinct().Count());
}
