using System.Globalization;
using System.Threading.RateLimiting;
using Microsoft.AspNetCore.RateLimiting;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Intake.Raw;
using Registry.Platform;

namespace Registry.Intake.Receiving;

/// <summary>Marks what takes in rows: what is sent to it is bounded by <see cref="LimitIntake"/>. A GET is not.</summary>
[AttributeUsage(AttributeTargets.Class)]
public sealed class LimitedIntakeAttribute : Attribute;

/// <summary>
/// How much is taken in at a time: requests a minute of one sender, requests at once of one sender and of all, and of those the ones that
/// cost more: larger bodies, which hold a connection to the database or, in FHIR, memory while they arrive, and dry runs, which are held in
/// memory. A few wait; what is beyond that is answered 429 with Retry-After before its body is read, so that a rush costs its senders time
/// and the program no memory.
/// </summary>
/// <remarks>Fields by draft-ietf-httpapi-ratelimit-headers-10; 429 by RFC 6585, section 4.</remarks>
public sealed class LimitIntake : IDisposable
{
    private readonly PartitionedRateLimiter<HttpContext> _requests, _ofSender, _ofAll, _largeOfSender, _largeOfAll, _dryRuns;
    private readonly IntakeOptions _options;

    public LimitIntake(IOptions<IntakeOptions> options)
    {
        _options = options.Value;
        _requests = PartitionedRateLimiter.Create<HttpContext, string>(
            http => RateLimitPartition.GetTokenBucketLimiter(SenderOf(http), _ => new()
            {
                TokenLimit = _options.RequestsPerMinute,
                TokensPerPeriod = Math.Max(1, _options.RequestsPerMinute / 60),
                ReplenishmentPeriod = TimeSpan.FromMinutes(Math.Max(1, _options.RequestsPerMinute / 60)) / _options.RequestsPerMinute,
                QueueLimit = 0,
            }));
        _ofSender = AtOnce(SenderOf, _options.AtOncePerSender, _options.AtOncePerSender);
        _ofAll = AtOnce(_ => "", _options.AtOnce, _options.AtOnce);
        _largeOfSender = AtOnce(SenderOf, _options.LargeAtOncePerSender, 2 * _options.LargeAtOncePerSender);
        _largeOfAll = AtOnce(_ => "", _options.LargeAtOnce, _options.LargeAtOnce);
        _dryRuns = AtOnce(_ => "", _options.DryRunsAtOnce, 2 * _options.DryRunsAtOnce);
        Limiter = PartitionedRateLimiter.CreateChained(
            Where(Applies, _requests), Where(Applies, _ofSender), Where(IsLarge, _largeOfSender), Where(Applies, _ofAll),
            Where(IsLarge, _largeOfAll), Where(IsDryRun, _dryRuns));
    }

    /// <summary>Asked before every request.</summary>
    public PartitionedRateLimiter<HttpContext> Limiter { get; }

    /// <summary>Whether a request sends rows.</summary>
    public static bool Applies(HttpContext http) =>
        !HttpMethods.IsGet(http.Request.Method) && !HttpMethods.IsHead(http.Request.Method)
            && http.GetEndpoint()?.Metadata.GetMetadata<LimitedIntakeAttribute>() is not null;

    /// <summary>Says with every answer how much the sender may still send.</summary>
    public void Tell(HttpContext http)
    {
        if (!Applies(http)) return;
        http.Response.OnStarting(() =>
        {
            var left = _requests.GetStatistics(http)?.CurrentAvailablePermits ?? _options.RequestsPerMinute;
            http.Response.Headers["RateLimit-Policy"] = string.Create(
                CultureInfo.InvariantCulture, $"\"requests\";q={_options.RequestsPerMinute};w=60");
            http.Response.Headers["RateLimit"] = string.Create(CultureInfo.InvariantCulture, $"\"requests\";r={left};t=60");
            return Task.CompletedTask;
        });
    }

    public static async ValueTask RefuseAsync(OnRejectedContext refused, CancellationToken ct)
    {
        var http = refused.HttpContext;
        var seconds = refused.Lease.TryGetMetadata(MetadataName.RetryAfter, out var after)
            ? Math.Max(1, (int)Math.Ceiling(after.TotalSeconds)) : 1;
        var answered = await AnswerLater.WriteAsync(http, http.Request.Path, new(
            StatusCodes.Status429TooManyRequests, seconds, "Too much is being sent at once",
            $"Nothing was stored. Send it again unchanged after {seconds} s.", "throttled"), ct);
        // To a browser the page of problems says it, without reading the form that was sent.
        if (!answered) http.Request.ContentType = null;
    }

    public void Dispose()
    {
        foreach (var limiter in (PartitionedRateLimiter<HttpContext>[])[Limiter, _requests, _ofSender, _ofAll, _largeOfSender, _largeOfAll,
            _dryRuns]) limiter.Dispose();
    }

    /// <summary>A body that says it is small: taken into memory whole, before it costs anything else.</summary>
    public static bool IsSmall(HttpContext http) => http.Request.ContentLength is > 0 and <= ShareCommit.MaxBytes;

    /// <summary>Everything else, and whatever may be a workbook.</summary>
    private static bool IsLarge(HttpContext http) => Applies(http)
        && (!IsSmall(http) || http.Request.HasFormContentType || http.Request.ContentType?.StartsWith(
            ContentTypes.Xlsx, StringComparison.OrdinalIgnoreCase) == true);

    /// <summary>As the endpoints read it: a page's handler is found whatever the case of its name.</summary>
    private static bool IsDryRun(HttpContext http) => Applies(http)
        && (http.Request.Query["dry_run"] == "true"
            || string.Equals(http.Request.Query["handler"], "Try", StringComparison.OrdinalIgnoreCase));

    private static string SenderOf(HttpContext http) => Viewer.Of(http.User) switch
    {
        { SiteKeyId: { } key } => $"key {key}",
        { PersonId: { } person } => $"person {person}",
        _ => "nobody",
    };

    private static PartitionedRateLimiter<HttpContext> AtOnce(Func<HttpContext, string> partition, int permits, int waiting) =>
        PartitionedRateLimiter.Create<HttpContext, string>(http => RateLimitPartition.GetConcurrencyLimiter(partition(http), _ => new()
        {
            PermitLimit = permits,
            QueueLimit = waiting,
            QueueProcessingOrder = QueueProcessingOrder.OldestFirst,
        }));

    private static Conditional Where(Func<HttpContext, bool> applies, PartitionedRateLimiter<HttpContext> limiter) => new(applies, limiter);

    /// <summary>A limit for some requests only; the others pass.</summary>
    private sealed class Conditional(Func<HttpContext, bool> applies, PartitionedRateLimiter<HttpContext> limiter)
        : PartitionedRateLimiter<HttpContext>
    {
        private static readonly PartitionedRateLimiter<HttpContext> None =
            PartitionedRateLimiter.Create<HttpContext, string>(_ => RateLimitPartition.GetNoLimiter(""));

        public override RateLimiterStatistics? GetStatistics(HttpContext resource) => Of(resource).GetStatistics(resource);
        protected override RateLimitLease AttemptAcquireCore(HttpContext resource, int permitCount) =>
            Of(resource).AttemptAcquire(resource, permitCount);
        protected override ValueTask<RateLimitLease> AcquireAsyncCore(
            HttpContext resource, int permitCount, CancellationToken cancellationToken) =>
            Of(resource).AcquireAsync(resource, permitCount, cancellationToken);
        private PartitionedRateLimiter<HttpContext> Of(HttpContext http) => applies(http) ? limiter : None;
    }
}
