using System.ComponentModel.DataAnnotations;

namespace Registry.Operations;

/// <summary>How the registry is looked after.</summary>
public sealed record OperationsOptions
{
    /// <summary>What backups are encrypted with; 16 characters at least. Keep it apart from the backups: without it they cannot be
    /// read.</summary>
    [MinLength(16)] public string? BackupPassphrase { get; init; }

    /// <summary>Hours after which a missing backup is a problem.</summary>
    [Range(1, 24 * 90)] public int BackupHours { get; init; } = 26;

    /// <summary>Minutes a submission may wait for a worker before that is a problem.</summary>
    [Range(1, 24 * 60)] public int QueueMinutes { get; init; } = 15;

    /// <summary>Minutes without a worker before that is a problem.</summary>
    [Range(1, 24 * 60)] public int WorkerMinutes { get; init; } = 2;

    /// <summary>Free mebibytes where the program writes (and where its private database lies) below which it is a problem.</summary>
    [Range(1, 1_000_000_000)] public int DiskFreeMebibytes { get; init; } = 2_048;

    /// <summary>Who is told of problems by mail; nobody when empty. The letters hold no personal data.</summary>
    public string[] AlarmTo { get; init; } = [];

    /// <summary>Where <c>/metrics</c> is answered for Prometheus, such as <c>http://127.0.0.1:9464</c>; nowhere when empty. Open to
    /// whoever reaches it: keep it inside.</summary>
    public Uri? MetricsUrl { get; init; }

    /// <summary>Where traces are sent (OTLP), such as <c>http://collector:4317</c>; nowhere when empty.</summary>
    public Uri? TracesTo { get; init; }
}
