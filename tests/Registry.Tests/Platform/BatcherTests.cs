using Registry.Platform;

namespace Registry.Tests.Platform;

public sealed class BatcherTests
{
    [Fact]
    public async Task Everything_asked_for_is_done_once_and_never_more_runs_at_a_time_than_allowed()
    {
        const int asked = 20_000;
        var done = new int[asked];
        var (running, most, runs, all) = (0, 0, 0, new TaskCompletionSource());
        var left = asked;
        var batcher = new Batcher<int>(atOnce: 2, most: 64, async some =>
        {
            Assert.InRange(some.Count, 1, 64);
            InterlockedMax(ref most, Interlocked.Increment(ref running));
            Interlocked.Increment(ref runs);
            await Task.Yield();
            foreach (var one in some) Interlocked.Increment(ref done[one]);
            Interlocked.Decrement(ref running);
            if (Interlocked.Add(ref left, -some.Count) == 0) all.SetResult();
        });

        await Parallel.ForEachAsync(Enumerable.Range(0, asked), TestContext.Current.CancellationToken, async (i, _) =>
        {
            batcher.Add(i);
            if (i % 7 == 0) await Task.Yield();
        });
        await all.Task.WaitAsync(Eventually.Patience, TestContext.Current.CancellationToken);

        Assert.All(done, times => Assert.Equal(1, times));
        Assert.InRange(most, 1, 2);
        Assert.InRange(runs, 1, asked);
    }

    private static void InterlockedMax(ref int target, int value)
    {
        for (var seen = Volatile.Read(ref target); value > seen;)
            seen = Interlocked.CompareExchange(ref target, value, seen) is var was && was == seen ? value : was;
    }
}
