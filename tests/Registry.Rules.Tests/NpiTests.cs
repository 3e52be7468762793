using Xunit;

namespace Registry.Rules.Tests;

/// <summary>Against the worked examples of CMS, "Requirements for National Provider Identifier (NPI) and NPI Check Digit"
/// (NPIcheckdigit.pdf), and against its second way to reckon.</summary>
public sealed class NpiTests
{
    /// <summary>The document's own two reckonings of 123456789. Behind the prefix 80840: 8+0+8+8+0+2+2+6+4+1+0+6+1+4+8+1+8 = 67, and
    /// 70 - 67 = 3. Without it: 24+2+2+6+4+1+0+6+1+4+8+1+8 = 67, the same 3.</summary>
    [Fact]
    public void The_published_example_has_the_check_digit_3_both_ways()
    {
        Assert.Equal(67, Doubled("80840123456789"));
        Assert.Equal(67, 24 + Doubled("123456789"));
        Assert.Equal([3], Enumerable.Range(0, 10).Where(d => Npi.IsValid($"123456789{d}")));
    }

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
            var digit = (10 - ((24 + Doubled(figures)) % 10)) % 10;
            Assert.Equal([digit], Enumerable.Range(0, 10).Where(d => Npi.IsValid($"{figures}{d}")));
        }
    }

    /// <summary>Steps 1 and 2 of the document: alternate figures doubled from the rightmost, and the figures of all added.</summary>
    private static int Doubled(string figures) =>
        figures.Reverse().Select((c, i) => (i % 2 == 0 ? 2 : 1) * (c - '0')).Sum(p => (p / 10) + (p % 10));
}
