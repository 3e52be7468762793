using Registry.Rules.Facts;
using Xunit;

namespace Registry.Rules.Tests.Facts;

public class TestDetailTests
{
    [Theory]
    [InlineData("2000:8.1:-6.2:14.3;3000:5:-9:14", "2000:8.1:-6.2:14.3;3000:5:-9:14")]
    [InlineData(" 3000 : 5 : -9 ; 2000:::6.5 ; ", "3000:5:-9;2000:::6.5")]
    [InlineData("1500::-12.25", "1500::-12.25")]
    public void Bands_are_read_and_written(string text, string written)
    {
        var (bands, problem) = TestDetail.ReadBands(text);
        Assert.Null(problem);
        Assert.Equal(written, TestDetail.WriteBands(bands));
        Assert.Equal(bands, TestDetail.ReadBands(TestDetail.WriteBands(bands)).Bands);
    }

    [Theory]
    [InlineData(";", "has no band; each is Hz:level:noise:snr, with ; between them")]
    [InlineData("2000", "band 1: states nothing but its frequency")]
    [InlineData("2 kHz:5", "band 1: the frequency is not a whole number of Hz")]
    [InlineData("2000:5;2:5", "band 2: the frequency is not between 250 and 16000 Hz")]
    [InlineData("2000:5;2000:6", "band 2: the frequency is there twice")]
    [InlineData("2000:5:1:4:9", "band 1: has more than the four parts Hz:level:noise:snr")]
    [InlineData("2000:5,5", "band 1: the level is not a number with at most two decimals")]
    [InlineData("2000:5:1.234", "band 1: the noise floor is not a number with at most two decimals")]
    [InlineData("2000:5:1:91", "band 1: the signal-to-noise ratio is not between -60 and 90 dB")]
    [InlineData("2000:-61", "band 1: the level is not between -60 and 90 dB")]
    [InlineData("2000:1e2", "band 1: the level is not a number with at most two decimals")]
    public void What_is_wrong_is_said_without_repeating_it(string text, string problem) =>
        Assert.Equal(problem, TestDetail.ReadBands(text).Problem);

    [Fact]
    public void There_are_at_most_32_bands()
    {
        string Text(int count) => string.Join(';', Enumerable.Range(1, count).Select(i => $"{500 + i}:1"));
        Assert.Null(TestDetail.ReadBands(Text(32)).Problem);
        Assert.Equal("has more than 32 bands", TestDetail.ReadBands(Text(33)).Problem);
    }

    [Fact]
    public void The_ratio_is_level_less_noise_where_it_is_not_stated() =>
        Assert.Equal([14.3m, 6m, null, null], new TestBand[] { new(2000, 8.1m, -6.2m, null), new(2000, 8.1m, -6.2m, 6m),
            new(2000, 8m, null, null), new(2000, null, 1m, null) }
            .Select(b => b.Snr));

    [Fact]
    public void A_detail_is_completed_but_never_contradicted()
    {
        var said = new TestDetail { Stimulus = "click", DurationSeconds = 20.0m, Bands = [new(2000, 8.1m, -6.2m, null)] };
        Assert.Equal(said, said.CompletedBy(new TestDetail { DurationSeconds = 20m }));
        Assert.Equal(12, said.CompletedBy(new TestDetail { ArtefactsRejected = 12 })!.ArtefactsRejected);
        Assert.Null(said.CompletedBy(new TestDetail { DurationSeconds = 21m }));
        Assert.Null(said.CompletedBy(new TestDetail { Bands = [new(2000, 8.2m, -6.2m, null)] }));
    }
}
