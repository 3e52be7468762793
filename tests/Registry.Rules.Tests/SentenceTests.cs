using System.Text.Json;
using Xunit;

namespace Registry.Rules.Tests;

public class SentenceTests
{
    [Fact]
    public void Numbers_and_dates_are_filled_in() =>
        Assert.Equal("day 3, on 2026-02-28, of 7",
            new Sentence("day {0}, on {1:d}, of {2}", 3, new DateOnly(2026, 2, 28).DayNumber, 7).ToString());

    [Fact]
    public void Text_is_kept_as_it_is() => Assert.Equal("as it is", new Sentence("as it is").ToString());

    [Fact]
    public void Equal_when_they_read_the_same() =>
        Assert.Equal(new Sentence("day 3"), new Sentence("day {0}", 3));

    [Fact]
    public void A_due_reads_the_same_after_json()
    {
        var options = new JsonSerializerOptions(JsonSerializerDefaults.Web);
        var due = new Due(DueStep.Rescreen, new DateOnly(2026, 4, 10), RuleCatalogue.Rescreen.Id, new Sentence("on day {0}", 5));
        Assert.Equal(due, JsonSerializer.Deserialize<Due>(JsonSerializer.Serialize(due, options), options));
    }
}
