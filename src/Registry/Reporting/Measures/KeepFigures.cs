using System.Collections.Concurrent;
using Microsoft.Extensions.Caching.Memory;
using Registry.Infants.Statuses;
using Registry.Platform;

namespace Registry.Reporting.Measures;

/// <summary>What figures of a past day are kept by: the same question, under the same policy.</summary>
internal sealed record PastQuestion(MeasureRequest Request, bool ForRelease, string PolicyVersion);

/// <summary>
/// Figures of past days. Nothing recorded since changes what was known then, so a question is computed once for all who ask it, one
/// question at a time, and its answer kept for an hour while there is room. A new question counts against what one person may ask
/// (<see cref="LimitSnapshots"/>), like a past day of any page.
/// </summary>
public sealed class KeepFigures(StatusSource days, LimitSnapshots limit, ProgramClock clock, IHostApplicationLifetime life) : IDisposable
{
    /// <summary>Answers kept at a time: counts and waits, some hundred kilobytes each.</summary>
    private const int MostKept = 100;

    private static readonly MemoryCacheEntryOptions ForAnHour = new() { Size = 1, AbsoluteExpirationRelativeToNow = TimeSpan.FromHours(1) };

    private readonly MemoryCache _kept = new(new MemoryCacheOptions { SizeLimit = MostKept });
    private readonly ConcurrentDictionary<PastQuestion, Lazy<Task<Measured>>> _running = new();
    private readonly SemaphoreSlim _turn = new(1);

    /// <summary>Questions computed since the program started.</summary>
    public int Computed { get; private set; }

    /// <summary>The answer to a question, kept or computed when it is about the past.</summary>
    /// <exception cref="RequestRefusedException">The day lies before the registry's first birth, or this person asked for too
    /// many.</exception>
    internal async Task<Measured> AnswerAsync(PastQuestion asked, Func<CancellationToken, Task<Measured>> compute, CancellationToken ct)
    {
        if (!IsPast(asked.Request)) return await compute(ct);
        await days.RefuseOutsideAsync(asked.Request.AsOf, ct);
        if (_kept.TryGetValue(asked, out Measured? kept)) return kept!;
        var own = new Lazy<Task<Measured>>(() => Task.Run(() => OnceAsync(asked, compute)));
        var running = _running.GetOrAdd(asked, own);
        if (running == own) CountOrLeave(asked);
        return await running.Value.WaitAsync(ct);
    }

    /// <summary>Who asks first is whose question it is; when that person may not, the next one's.</summary>
    private void CountOrLeave(PastQuestion asked)
    {
        try
        {
            limit.Count();
        }
        catch (RequestRefusedException)
        {
            _running.TryRemove(asked, out _);
            throw;
        }
    }

    /// <summary>What is computed each time anew, in the same turn: the infants behind a number, a published report run again. Free where
    /// the number itself is kept.</summary>
    internal async Task<T> AnewAsync<T>(PastQuestion asked, Func<CancellationToken, Task<T>> compute, CancellationToken ct)
    {
        if (!IsPast(asked.Request)) return await compute(ct);
        await days.RefuseOutsideAsync(asked.Request.AsOf, ct);
        if (!_kept.TryGetValue(asked, out _)) limit.Count();
        await _turn.WaitAsync(ct);
        try
        {
            return await compute(ct);
        }
        finally
        {
            _turn.Release();
        }
    }

    private bool IsPast(MeasureRequest request) => request.AsOf < clock.Today || clock.DateOf(request.KnownAt) < clock.Today;

    /// <summary>Who gives up waiting stops nobody else's.</summary>
    private async Task<Measured> OnceAsync(PastQuestion asked, Func<CancellationToken, Task<Measured>> compute)
    {
        await _turn.WaitAsync(life.ApplicationStopping);
        try
        {
            Computed++;
            return _kept.Set(asked, await compute(life.ApplicationStopping), ForAnHour);
        }
        finally
        {
            _running.TryRemove(asked, out _);
            _turn.Release();
        }
    }

    public void Dispose()
    {
        _kept.Dispose();
        _turn.Dispose();
    }
}
