using System.Collections.Concurrent;
using System.Threading.RateLimiting;

namespace Registry.Access;

/// <summary>
/// How many tries to sign in are looked at, before any password is hashed: of one address, of all, and at once. Hashing is slow by design;
/// what is beyond the limit costs nothing but its answer. Counted in this process: each node has its own.
/// </summary>
public sealed class LimitSignIns : IDisposable
{
    /// <summary>Failures that cost no wait: fingers slip.</summary>
    private const int Free = 3;

    /// <summary>The same for one account over all addresses nobody signed in to it from.</summary>
    private const int FreeElsewhere = 12;
    private const int MostRemembered = 100_000;
    private static readonly TimeSpan LongestWait = TimeSpan.FromMinutes(5);
    private static readonly TimeSpan Forgotten = TimeSpan.FromHours(1);

    private sealed record Failures(int Count, DateTimeOffset Last);

    private readonly PartitionedRateLimiter<string> _ofAddress;
    private readonly TokenBucketRateLimiter _ofAll;
    private readonly ConcurrencyLimiter _atOnce;
    private readonly ConcurrentDictionary<string, Failures> _failed = new();
    private readonly TimeProvider _clock;

    public LimitSignIns(AccessSettings settings, TimeProvider clock)
    {
        _clock = clock;
        _ofAddress = PartitionedRateLimiter.Create<string, string>(
            address => RateLimitPartition.GetTokenBucketLimiter(address, _ => Bucket(settings.SignInsPerMinute)));
        _ofAll = new(Bucket(settings.AllSignInsPerMinute));
        // Half of the machine at most: the rest answers everybody else.
        var hashing = Math.Max(1, Environment.ProcessorCount / 2);
        _atOnce = new(new() { PermitLimit = hashing, QueueLimit = 16 * hashing, QueueProcessingOrder = QueueProcessingOrder.OldestFirst });
    }

    /// <summary>Leave to look at one try; dispose it afterwards. Not acquired: answer 429.</summary>
    public async Task<RateLimitLease> EnterAsync(string address, CancellationToken ct)
    {
        var own = _ofAddress.AttemptAcquire(address);
        if (!own.IsAcquired) return own;
        var all = _ofAll.AttemptAcquire();
        return all.IsAcquired ? await _atOnce.AcquireAsync(1, ct) : all;
    }

    /// <summary>Whether a try comes too soon after failures. Somebody who fails from elsewhere cannot keep the owner out: an address the
    /// account was signed in to from has a count of its own only.</summary>
    public bool MustWait(string account, string address, bool known) =>
        Waits(Pair(account, address), Free) || (!known && Waits(account, FreeElsewhere));

    public void Failed(string account, string address, bool known)
    {
        Count(Pair(account, address));
        if (!known) Count(account);
    }

    public void Succeeded(string account, string address) => _failed.TryRemove(Pair(account, address), out _);

    /// <summary>Twice as long with every further failure, from a second on.</summary>
    internal static TimeSpan WaitAfter(int failures, int free) => failures <= free ? TimeSpan.Zero
        : failures - free > 9 ? LongestWait : TimeSpan.FromSeconds(Math.Min(LongestWait.TotalSeconds, 1 << (failures - free - 1)));

    public void Dispose()
    {
        _ofAddress.Dispose();
        _ofAll.Dispose();
        _atOnce.Dispose();
    }

    private bool Waits(string key, int free) =>
        _failed.TryGetValue(key, out var failed) && _clock.GetUtcNow() < failed.Last + WaitAfter(failed.Count, free);

    private void Count(string key)
    {
        var now = _clock.GetUtcNow();
        if (_failed.Count >= MostRemembered)
            foreach (var old in _failed.Where(f => now - f.Value.Last > Forgotten)) _failed.TryRemove(old);
        // Full of fresh failures: the limits of addresses and of all hold on.
        if (_failed.Count >= 2 * MostRemembered) return;
        _failed.AddOrUpdate(key, _ => new(1, now), (_, before) => new(now - before.Last > Forgotten ? 1 : before.Count + 1, now));
    }

    private static string Pair(string account, string address) => $"{account}\n{address}";

    private static TokenBucketRateLimiterOptions Bucket(int perMinute) => new()
    {
        TokenLimit = perMinute,
        TokensPerPeriod = Math.Max(1, perMinute / 60),
        ReplenishmentPeriod = TimeSpan.FromMinutes(Math.Max(1, perMinute / 60)) / perMinute,
        QueueLimit = 0,
    };
}
