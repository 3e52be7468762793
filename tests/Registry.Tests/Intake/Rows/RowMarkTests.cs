using Registry.Intake.Rows;

namespace Registry.Tests.Intake.Rows;

public sealed class RowMarkTests
{
    private static readonly RowMark Mark = new(new(Guid.Parse("0190a0b0-0000-7000-8000-0000000000ab")), 12);

    [Theory]
    [InlineData("")]
    [InlineData("birth_date is required ")]
    [InlineData("birth_date [row 3 of something] is required ")]
    [InlineData("[row 1 of 0190a0b0-0000-7000-8000-000000000001] ")]
    public void A_mark_is_found_at_the_end_of_whatever_stands_before_it(string before)
    {
        Assert.Equal(Mark, RowMark.AtEndOf($"{before}{Mark}"));
        Assert.Equal(Mark, RowMark.AtEndOf($" {before}{Mark}\r\n"));
    }

    [Theory]
    [InlineData("")]
    [InlineData("birth_date is required")]
    [InlineData("[row 12 of 0190a0b0-0000-7000-8000-0000000000ab] and more")]
    [InlineData("[row of 0190a0b0-0000-7000-8000-0000000000ab]")]
    [InlineData("[row -1 of 0190a0b0-0000-7000-8000-0000000000ab]")]
    [InlineData("[row 12 of that file]")]
    [InlineData("[row 12]")]
    [InlineData("]")]
    public void What_is_no_mark_names_no_row(string text) => Assert.Null(RowMark.AtEndOf(text));
}
