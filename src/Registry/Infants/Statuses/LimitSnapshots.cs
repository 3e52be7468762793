using System.Threading.RateLimiting;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Platform;

namespace Registry.Infants.Statuses;

/// <summary>How many past days that nobody computed yet one person may ask for in an hour. Jobs are not limited.</summary>
public sealed class LimitSnapshots : IDisposable
{
    private readonly IHttpContextAccessor _http;
    private readonly PartitionedRateLimiter<Viewer> _newDays;

    public LimitSnapshots(IHttpContextAccessor http, IOptions<InfantsOptions> options)
    {
        _http = http;
        var perHour = options.Value.NewDaysPerHour;
        _newDays = PartitionedRateLimiter.Create<Viewer, Guid>(viewer => RateLimitPartition.GetTokenBucketLimiter(
            viewer.PersonId ?? viewer.SiteKeyId ?? Guid.Empty, _ => new()
            {
                TokenLimit = perHour,
                TokensPerPeriod = 1,
                ReplenishmentPeriod = TimeSpan.FromHours(1) / perHour,
                QueueLimit = 0,
            }));
    }

    /// <exception cref="RequestRefusedException">This person asked for too many days.</exception>
    public void Count()
    {
        if (_http.HttpContext is not { } http) return;
        using var lease = _newDays.AttemptAcquire(http.RequestServices.GetRequiredService<Viewer>());
        if (!lease.IsAcquired)
            throw SnapshotWords.TooManyDays(lease.TryGetMetadata(MetadataName.RetryAfter, out var after) ? after : TimeSpan.FromMinutes(1));
    }

    public void Dispose() => _newDays.Dispose();
}
