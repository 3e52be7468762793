using Registry.Rules.Linkage;
using Xunit;

namespace Registry.Rules.Tests.Linkage;

/// <summary>What may be meant by what somebody types to find an infant.</summary>
public sealed class SearchTermTests
{
    [Theory]
    [InlineData("Ada Marlow", "ada | marlow")]
    [InlineData("  MARLOW,   ada ", "marlow | ada")]
    [InlineData("O'Brien-Núñez", "obrien | nunez")]
    [InlineData("Søren Weiß", "soren | weiss")]
    [InlineData("2026-09-01", "born 2026-09-01 2026-01-09, phone 20260901 120260901, number 2026-09-01")]
    [InlineData("09/01/2026", "born 2026-09-01 2026-01-09, number 09/01/2026")]
    [InlineData("13/09/2026", "born 2026-09-13, number 13/09/2026")]
    [InlineData("3.11.26", "born 2026-03-11 2026-11-03, number 3.11.26")]
    [InlineData("3 November 2026", "born 2026-11-03")]
    [InlineData("Nov 3, 2026 Ada", "born 2026-11-03 | ada")]
    [InlineData("(555) 010-0123", "phone 5550100123 15550100123")]
    [InlineData("+1 555 010 0123 marlow", "phone 15550100123 5550100123 | marlow")]
    [InlineData("555-0199", "phone 5550199 15550199, number 555-0199")]
    [InlineData("harbour-1", "number harbour-1 HARBOUR-1")]
    [InlineData("   ", "")]
    [InlineData("' or 1=1 --", "or | number 1=1")]
    [InlineData("%_*", "% | *")]
    public void A_text_is_read_as_everything_it_may_mean(string typed, string expected) =>
        Assert.Equal(expected, Said(SearchTerm.Read(typed)));

    [Fact]
    public void Any_text_is_read_and_a_long_one_has_few_terms()
    {
        var names = Enumerable.Range(0, 20).Select(i => new string((char)('a' + i), 3));
        Assert.Equal(SearchTerm.MostTerms, SearchTerm.Read(string.Join(' ', names)).Count);
        CsCheck.Check.Sample(CsCheck.Gen.String, text => SearchTerm.Read(text).Count <= SearchTerm.MostTerms);
    }

    private static string Said(IEnumerable<SearchTerm> terms) => string.Join(" | ", terms.Select(t => t.Word ?? string.Join(", ", new[]
    {
        t.Days.Count > 0 ? "born " + string.Join(' ', t.Days.Select(d => d.ToString("yyyy-MM-dd", null))) : null,
        t.Phones.Count > 0 ? "phone " + string.Join(' ', t.Phones) : null,
        t.Numbers.Count > 0 ? "number " + string.Join(' ', t.Numbers) : null,
    }.OfType<string>())));
}
