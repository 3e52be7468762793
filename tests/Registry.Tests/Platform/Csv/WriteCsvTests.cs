using System.Globalization;
using Registry.Platform.Csv;

namespace Registry.Tests.Platform.Csv;

public sealed class WriteCsvTests
{
    [Theory]
    [InlineData("=1+1", "'=1+1\r\n")]
    [InlineData("+49 30", "'+49 30\r\n")]
    [InlineData("-2", "'-2\r\n")]
    [InlineData("@sum", "'@sum\r\n")]
    [InlineData("\tx", "'\tx\r\n")]
    [InlineData("'=1", "''=1\r\n")]
    [InlineData("O'Hara", "O'Hara\r\n")]
    [InlineData("a,b", "\"a,b\"\r\n")]
    [InlineData("say \"so\"", "\"say \"\"so\"\"\"\r\n")]
    [InlineData("=a,b", "\"'=a,b\"\r\n")]
    [InlineData("two\nlines", "\"two\nlines\"\r\n")]
    [InlineData(" plain ", " plain \r\n")]
    [InlineData("a;b", "a;b\r\n")]
    [InlineData("", "\r\n")]
    public void Text_is_quoted_and_never_a_formula(string value, string line) => Assert.Equal(line, WriteCsv.Text([[value]]));

    [Fact]
    public void Dates_and_numbers_are_spelled_as_everywhere_and_are_no_formulas() =>
        Assert.Equal("2026-03-01,-3,-0.5,,-7\r\n", WriteCsv.Text([[new DateOnly(2026, 3, 1), -3, -0.5m, null, new PlainCell("-7")]]));

    [Fact]
    public async Task Rows_end_as_the_receiver_ends_lines_and_a_long_file_loses_none()
    {
        var to = new StringWriter(CultureInfo.InvariantCulture) { NewLine = "\n" };
        await using (var csv = new WriteCsv(to))
            for (var i = 0; i < 20_000; i++) await csv.RowAsync([i, "x"], TestContext.Current.CancellationToken);
        Assert.Equal(string.Concat(Enumerable.Range(0, 20_000).Select(i => $"{i},x\n")), to.ToString());
    }
}
