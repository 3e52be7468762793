using Registry.Tests.Architecture;

namespace Registry.Tests.Fuzzing;

public sealed class FuzzParsersTests
{
    /// <summary>The first of the million that <c>bench fuzz</c> runs.</summary>
    [Fact]
    public async Task Mutated_files_and_messages_are_refused_or_read_whatever_they_hold()
    {
        var seen = await FuzzParsers.RunAsync(Path.Combine(SourceTree.Root, "docs/intake"), 0, 20_000, TestContext.Current.CancellationToken);
        Assert.Null(seen.Failure);
        Assert.True(seen is { Refused: > 1_000, Valid: > 1_000 }, seen.ToString()); // mutated neither to death nor not at all
    }
}
