using Registry.Tests.Architecture;
using Registry.Tests.Intake;
using Registry.Tests.Intake.Receiving;

namespace Registry.Tests.Fuzzing;

/// <summary>The first of the million that <c>bench fuzz</c> runs.</summary>
public sealed class FuzzTests(TestDatabase database)
{
    private static readonly FuzzCases Cases = new(Path.Combine(SourceTree.Root, "docs/intake"));

    [Fact]
    public async Task Mutated_files_and_messages_are_refused_or_read_whatever_they_hold()
    {
        var seen = await FuzzParsers.RunAsync(Cases, 0, 20_000, IntakeBed.Ct);
        Assert.Null(seen.Failure);
        Assert.True(seen is { Refused: > 1_000, Valid: > 1_000 }, seen.ToString()); // mutated neither to death nor not at all
    }

    [Fact]
    public async Task Mutated_files_and_messages_are_never_answered_with_a_fault_of_ours()
    {
        await using var bed = await IntakeBed.StartAsync(
            database, new Dictionary<string, string?> { ["Intake:RequestsPerMinute"] = "1000000" });
        using var client = await bed.ClientAsync(bed.Harbour);
        var (answers, failure) = await FuzzHttp.RunAsync(client, Cases, Enumerable.Range(0, 1_500), IntakeBed.Ct);
        Assert.Null(failure);
        Assert.True(answers.GetValueOrDefault(200) > 200 && answers.GetValueOrDefault(400) > 100, string.Join(", ", answers));
    }
}
