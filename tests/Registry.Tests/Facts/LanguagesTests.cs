using System.Globalization;
using Registry.Platform;

namespace Registry.Tests.Facts;

/// <summary>Languages by code and name: the published list of ISO 639-2 (npm package iso-639-2) beside another published one, the locale
/// data of CLDR that the runtime reads.</summary>
public sealed class LanguagesTests
{
    [Theory]
    [InlineData("es", "es"), InlineData("SPA", "es"), InlineData("spanish", "es"), InlineData("Castilian", "es")]
    [InlineData("ger", "de"), InlineData("deu", "de"), InlineData("Haitian Creole", "ht"), InlineData("ase", "ase")]
    [InlineData("American Sign Language", "ase"), InlineData("hmn", "hmn")]
    [InlineData("the language of the sea", "the language of the sea"), InlineData(null, null)]
    public void A_language_has_one_code(string? stated, string? code) => Assert.Equal(code, Languages.CodeOf(stated));

    [Theory]
    [InlineData("es", "Spanish"), InlineData("da", "Danish"), InlineData("ase", "American Sign Language"), InlineData("Danish", "Danish")]
    [InlineData("of the sea", "of the sea"), InlineData("zz", "zz"), InlineData(null, null)]
    public void It_is_shown_by_its_name(string? stated, string? name) => Assert.Equal(name, Languages.NameOf(stated));

    [Fact]
    public void Every_two_letter_language_of_the_locale_data_has_the_same_three_letter_code()
    {
        var known = CultureInfo.GetCultures(CultureTypes.NeutralCultures)
            .Where(c => c.Name.Length == 2 && c.ThreeLetterISOLanguageName.Length == 3).ToList();
        Assert.True(known.Count > 100);
        Assert.Empty(known.Where(c => Languages.CodeOf(c.ThreeLetterISOLanguageName) != c.Name).Select(c => c.Name));
    }
}
