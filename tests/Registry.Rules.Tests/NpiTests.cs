using Xunit;

namespace Registry.Rules.Tests;

/// <summary>Against the example of CMS, "Requirements for National Provider Identifier (NPI) and NPI Check Digit": 123456789 takes the
/// check digit 3 (recalled from memory), and against ISO/IEC 7812-1's formula written a second way.</summary>
public sealed class NpiTests
{
    [Theory]
    [InlineData("1234567893", true)]
    [InlineData("1234567890", false)]
    [InlineData("1234567839", false)] // two figures exchanged
    [InlineData("3234567891", false)] // begins with neither 1 nor 2
    [InlineData("123456789", false)]
    [InlineData("12345678931", false)]
    [InlineData("12345678９3", false)] // a figure of another script
    [InlineData("", false)]
    public void The_last_figure_checks_the_others(string npi, bool valid) => Assert.Equal(valid, Npi.IsValid(npi));

    /// <summary>The same document's shortcut: the constant 24 stands for the prefix 80840.</summary>
    [Fact]
    public void Each_nine_figures_have_one_check_digit_the_one_of_the_shortcut()
    {
        for (var number = 100_000_000; number < 300_000_000; number += 1_234_567)
        {
            var figures = number.ToString(System.Globalization.CultureInfo.InvariantCulture);
            var sum = 24 + figures.Select((c, i) => (i % 2 == 0 ? 2 : 1) * (c - '0')).Sum(p => (p / 10) + (p % 10));
            var digit = (10 - (sum % 10)) % 10;
            Assert.Equal([digit], Enumerable.Range(0, 10).Where(d => Npi.IsValid($"{figures}{d}")));
        }
    }
}
