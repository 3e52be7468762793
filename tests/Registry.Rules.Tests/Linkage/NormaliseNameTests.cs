using System.Globalization;
using System.Text;
using CsCheck;
using Registry.Rules.Linkage;
using Xunit;

namespace Registry.Rules.Tests.Linkage;

public sealed class NormaliseNameTests
{
    [Theory]
    [InlineData("Marlow", "MARLOW")]
    [InlineData("O'Brien-Núñez", "OBRIENNUNEZ")]
    [InlineData("o’brien nuñez", "OBRIENNUNEZ")]
    [InlineData("  de la  Cruz ", "DELACRUZ")]
    [InlineData("Nguyễn", "NGUYEN")]
    [InlineData("Ångström", "ANGSTROM")]
    [InlineData("Søren", "SØREN")]
    [InlineData("Владимир", "ВЛАДИМИР")]
    [InlineData("李", "李")]
    [InlineData("", null)]
    [InlineData("-- '", null)]
    [InlineData(null, null)]
    public void Names_are_compared_without_marks_punctuation_case_and_spaces(string? name, string? form) =>
        Assert.Equal(form, NormaliseName.Of(name));

    // Unicode Standard Annex #15, figures 3 to 6: singletons, canonical composites, compatibility composites.
    [Theory]
    [InlineData("\u212B", "\u00C5")]
    [InlineData("\u2126", "\u03A9")]
    [InlineData("A\u030A", "\u00C5")]
    [InlineData("s\u0323\u0307", "s\u0307\u0323")]
    [InlineData("\uFB01", "fi")]
    [InlineData("2\u2075", "25")]
    public void Equivalent_spellings_are_one_name(string one, string other) => Assert.Equal(NormaliseName.Of(other), NormaliseName.Of(one));

    [Fact]
    public void The_short_way_for_ascii_is_the_long_way() => Gen.String[Gen.Char[' ', '~'], 0, 200].Sample(name =>
    {
        var slow = string.Concat(name.Normalize(NormalizationForm.FormKD).Where(char.IsLetterOrDigit))
            .ToUpper(CultureInfo.InvariantCulture);
        return (NormaliseName.Of(name) ?? "") == slow;
    });

    [Fact]
    public void Once_is_enough() => Gen.String.Where(IsWellFormed).Sample(name =>
    {
        var form = NormaliseName.Of(name);
        return NormaliseName.Of(form) == form;
    });

    private static bool IsWellFormed(string name) => !name.EnumerateRunes().Contains(Rune.ReplacementChar);
}
