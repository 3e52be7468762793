using Registry.Records;
using Registry.Tests.Architecture;
using Registry.Tests.Intake;

namespace Registry.Tests.Demo;

/// <summary>The example file does what demo-data/README.md says of it.</summary>
public sealed class ExampleFileTests(TestDatabase database)
{
    [Fact]
    public async Task Seven_rows_are_accepted_one_changes_nothing_one_is_rejected_one_is_held()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var text = await File.ReadAllTextAsync(Path.Combine(SourceTree.Root, "demo-data/examples/screens.csv"),
            TestContext.Current.CancellationToken);
        var id = await bed.SendAsync(text);
        var outcomes = await bed.OutcomesAsync(id);
        Assert.Equal(10, outcomes.Count);
        Assert.All(outcomes[..7], o => Assert.Equal("accepted", o));
        Assert.Equal("unchanged", outcomes[7]);
        Assert.Equal("rejected reason: is required for no_valid_result", outcomes[8]);
        Assert.StartsWith("held no_such_infant", outcomes[9], StringComparison.Ordinal);
    }
}
