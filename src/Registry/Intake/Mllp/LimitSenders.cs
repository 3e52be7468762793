using System.Threading.RateLimiting;

namespace Registry.Intake.Mllp;

/// <summary>How much one sender may hold and send, known by its certificate, else by its address: who runs wild slows itself.</summary>
internal sealed class LimitSenders(MllpOptions options) : IDisposable
{
    private readonly PartitionedRateLimiter<string> _connections = PartitionedRateLimiter.Create<string, string>(sender =>
        RateLimitPartition.GetConcurrencyLimiter(sender, _ => new() { PermitLimit = options.ConnectionsPerSender, QueueLimit = 0 }));

    private readonly PartitionedRateLimiter<string> _frames = PartitionedRateLimiter.Create<string, string>(sender =>
        RateLimitPartition.GetTokenBucketLimiter(sender, _ => new()
        {
            TokenLimit = options.FramesPerMinutePerSender,
            TokensPerPeriod = 1,
            ReplenishmentPeriod = TimeSpan.FromMinutes(1) / options.FramesPerMinutePerSender,
            QueueLimit = options.ConnectionsPerSender, // each of its connections waits with one frame at most
            QueueProcessingOrder = QueueProcessingOrder.OldestFirst,
        }));

    /// <summary>Held while a connection lasts; not acquired: one too many.</summary>
    public RateLimitLease Connect(string sender) => _connections.AttemptAcquire(sender);

    /// <summary>Comes back when it is the frame's turn.</summary>
    public async Task WaitAsync(string sender, CancellationToken ct)
    {
        using var lease = await _frames.AcquireAsync(sender, 1, ct);
    }

    public void Dispose()
    {
        _connections.Dispose();
        _frames.Dispose();
    }
}
