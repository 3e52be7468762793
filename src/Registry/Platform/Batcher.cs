using System.Collections.Concurrent;

namespace Registry.Platform;

/// <summary>
/// Does at once what many ask for at the same moment, where doing it for many costs little more than for one. Nothing waits for others to
/// come: each run takes what gathered while the ones before it worked.
/// </summary>
/// <param name="atOnce">Runs at a time.</param>
/// <param name="most">Most that one run is given.</param>
/// <param name="run">Does it for some of them. It answers each itself and does not throw.</param>
public sealed class Batcher<T>(int atOnce, int most, Func<IReadOnlyList<T>, Task> run)
{
    private readonly ConcurrentQueue<T> _waiting = new();
    private int _running;

    public void Add(T one)
    {
        _waiting.Enqueue(one);
        if (Interlocked.Increment(ref _running) <= atOnce) _ = Task.Run(WorkAsync);
        else Interlocked.Decrement(ref _running);
    }

    private async Task WorkAsync()
    {
        do
        {
            var taken = new List<T>();
            while (taken.Count < most && _waiting.TryDequeue(out var one)) taken.Add(one);
            if (taken.Count > 0) await run(taken);
            if (!_waiting.IsEmpty) continue;
            Interlocked.Decrement(ref _running);
            // One may have come after the look and before the step back, and found everybody busy.
            if (_waiting.IsEmpty) return;
            if (Interlocked.Increment(ref _running) <= atOnce) continue;
            Interlocked.Decrement(ref _running);
            return;
        }
        while (true);
    }
}
