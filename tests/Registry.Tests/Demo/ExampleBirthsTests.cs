using Registry.Tests.Architecture;
using Registry.Tests.Intake;

namespace Registry.Tests.Demo;

/// <summary>The example file of births: three infants, two of them twins; a test sent before it waits for it; sent again it changes
/// nothing.</summary>
public sealed class ExampleBirthsTests(TestDatabase database)
{
    [Fact]
    public async Task Three_births_are_accepted_and_a_test_that_waited_is_applied()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var births = await File.ReadAllTextAsync(Path.Combine(SourceTree.Root, "demo-data/examples/births.csv"), IntakeBed.Ct);
        var waiting = await bed.SendAsync(
            "kind,record_number,ear,outcome,method,performed_at\nscreening,EX-2604B,left,refer,aabr,2026-11-23T11:45\n");
        Assert.Equal(["held no_such_infant"], await bed.OutcomesAsync(waiting));

        Assert.Equal(["accepted", "accepted", "accepted"], await bed.OutcomesAsync(await bed.SendAsync(births)));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(waiting));
        Assert.Equal(["unchanged", "unchanged", "unchanged"], await bed.OutcomesAsync(await bed.SendAsync(births)));
        Assert.Equal(3, await bed.CountAsync("infants"));
    }
}
