using Registry.Platform;
using Registry.Ui;

namespace Registry.Tests.Ui;

/// <summary>Days as the region writes them, and numbers as a phone dials them.</summary>
public sealed class DateWordsTests
{
    [Theory]
    [InlineData(DateOrder.DayFirst, "3 Apr 2026")]
    [InlineData(DateOrder.MonthFirst, "Apr 3, 2026")]
    [InlineData(DateOrder.YearFirst, "2026-04-03")]
    public void A_day_is_written_one_way_and_never_read_as_another(DateOrder order, string written) =>
        Assert.Equal(written, Words.Date(new DateOnly(2026, 4, 3), order));

    [Fact]
    public void A_sentence_of_the_rules_says_days_as_pages_do() => Assert.Equal(
        "last evaluated on 13 Oct 2025, not 2025-13-45", Words.InText("last evaluated on 2025-10-13, not 2025-13-45"));

    [Theory]
    [InlineData("555-0112", "5550112")]
    [InlineData(" +1 (555) 010-0112 ", "+15550100112")]
    [InlineData("555 0147 ext. 22", "5550147")]
    [InlineData("ask the aunt", null)]
    [InlineData("12", null)]
    public void A_number_is_dialed_without_what_is_no_number(string phone, string? dialed) => Assert.Equal(dialed, Words.Dial(phone));

    /// <summary>Names of ISO 639, of the platform's own table.</summary>
    [Theory]
    [InlineData("es", "Spanish")]
    [InlineData("vi", "Vietnamese")]
    [InlineData("Spanish", "Spanish")]
    [InlineData("q9", "q9")]
    [InlineData(null, null)]
    public void A_language_reads_as_its_name(string? code, string? name) => Assert.Equal(name, Words.Language(code));
}
