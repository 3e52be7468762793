using Registry.Rules;
using Registry.Ui;

namespace Registry.Tests.Ui;

public sealed class CsvResultTests
{
    [Theory]
    [InlineData("=1+1", "'=1+1\r\n")]
    [InlineData("+49 30", "'+49 30\r\n")]
    [InlineData("-2", "'-2\r\n")]
    [InlineData("@sum", "'@sum\r\n")]
    [InlineData("\tx", "'\tx\r\n")]
    [InlineData("a,b", "\"a,b\"\r\n")]
    [InlineData("say \"so\"", "\"say \"\"so\"\"\"\r\n")]
    [InlineData("=a,b", "\"'=a,b\"\r\n")]
    [InlineData("plain", "plain\r\n")]
    [InlineData("", "\r\n")]
    public void Text_is_quoted_and_never_a_formula(string value, string line) => Assert.Equal(line, CsvResult.Line([value]));

    [Fact]
    public void Dates_codes_and_numbers_are_spelled_as_everywhere() =>
        Assert.Equal("2026-03-01,lost_to_follow_up,-3,\r\n", CsvResult.Line(
            [new DateOnly(2026, 3, 1), LossState.LostToFollowUp, -3, null]));

    [Theory]
    [InlineData("")]
    [InlineData("%%%")]
    [InlineData("bm90IGpzb24")]
    public void A_position_that_was_tampered_with_starts_the_list_anew(string text) => Assert.Null(Position.Parse(text));

    [Fact]
    public void A_position_reads_back()
    {
        var position = new Position("2026-03-01", Guid.CreateVersion7());
        Assert.Equal(position, Position.Parse(position.ToString()));
    }
}
