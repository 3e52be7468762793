using System.Threading.RateLimiting;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.Platform;

namespace Registry.Infants.Find;

/// <summary>How many searches one person may make in a minute: enough for whoever types, too few to walk through a register of
/// names.</summary>
public sealed class LimitSearches(IOptions<InfantsOptions> options) : IDisposable
{
    private readonly PartitionedRateLimiter<Guid> _ofPerson = PartitionedRateLimiter.Create<Guid, Guid>(person =>
        RateLimitPartition.GetTokenBucketLimiter(person, _ => new()
        {
            TokenLimit = options.Value.SearchesPerMinute,
            TokensPerPeriod = 1,
            ReplenishmentPeriod = TimeSpan.FromMinutes(1) / options.Value.SearchesPerMinute,
            QueueLimit = 0,
        }));

    /// <exception cref="RequestRefusedException">This person searched too often.</exception>
    public void Count(Viewer viewer)
    {
        using var lease = _ofPerson.AttemptAcquire(viewer.PersonId ?? Guid.Empty);
        if (!lease.IsAcquired)
            throw FindWords.TooMany(lease.TryGetMetadata(MetadataName.RetryAfter, out var after) ? after : TimeSpan.FromSeconds(1));
    }

    public void Dispose() => _ofPerson.Dispose();
}
