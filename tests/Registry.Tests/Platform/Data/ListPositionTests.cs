using Registry.Platform.Data;

namespace Registry.Tests.Platform.Data;

public sealed class ListPositionTests
{
    [Theory]
    [InlineData(null)]
    [InlineData("")]
    [InlineData("%%%")]
    [InlineData("bm90IGpzb24")]
    public void A_position_that_was_tampered_with_starts_the_list_anew(string? text) => Assert.Null(ListPosition.Read(text, 2));

    [Fact]
    public void A_position_reads_back()
    {
        var position = ListPosition.Of("2026-03-01", null, "a-b");
        Assert.Equal(["2026-03-01", null, "a-b"], ListPosition.Read(position, 3)!);
    }

    [Fact]
    public void A_position_of_another_list_is_none_of_ours() => Assert.Null(ListPosition.Read(ListPosition.Of("1"), 2));

    [Fact]
    public void A_moment_reads_back()
    {
        var at = new DateTimeOffset(2026, 3, 1, 12, 30, 15, TimeSpan.Zero);
        Assert.Equal(at, ListPosition.Moment(ListPosition.Moment(at)));
        Assert.Null(ListPosition.Moment("9999999999999999999999"));
    }
}
