using System.ComponentModel.DataAnnotations;

namespace Registry.Intake.Raw;

/// <summary>Limits of what one submission may be, and how it is worked through.</summary>
public sealed record IntakeOptions
{
    /// <summary>Largest body accepted, in bytes.</summary>
    [Range(1_000, 4_000_000_000)] public long MaxBytes { get; init; } = 512L * 1024 * 1024;

    /// <summary>How many times its size a compressed file may unpack to (beyond its first MiB): text of a table stays far below.</summary>
    [Range(10, 1_032)] public int MaxRatio { get; init; } = 200;

    /// <summary>Largest table of texts of a workbook, in bytes of memory.</summary>
    [Range(1_000, 1_000_000_000)] public long MaxSharedTextBytes { get; init; } = 64L * 1024 * 1024;

    /// <summary>Most rows one submission may hold.</summary>
    [Range(1, 10_000_000)] public int MaxRows { get; init; } = 1_000_000;

    /// <summary>Up to this many rows the answer waits for the outcomes; more are worked through in the background.</summary>
    [Range(0, 10_000)] public int InlineRows { get; init; } = 1_000;

    /// <summary>Most rows of a file a dry run tries: it decides all of them at once, in memory. The file itself is checked to its
    /// end.</summary>
    [Range(1, 20_000)] public int DryRunRows { get; init; } = 10_000;

    /// <summary>Largest body of a dry run, in bytes: it is held in memory, because it is stored nowhere.</summary>
    [Range(1_000, 256 * 1024 * 1024)] public int DryRunBytes { get; init; } = 32 * 1024 * 1024;

    /// <summary>Rows committed together.</summary>
    [Range(1, 20_000)] public int ChunkRows { get; init; } = 2_000;

    /// <summary>Bytes of raw submissions one site may have stored; those of refused files count until they are purged.</summary>
    [Range(1_000, 100_000_000_000_000)] public long BytesPerSite { get; init; } = 20L * 1024 * 1024 * 1024;

    /// <summary>Seconds within which a body must have arrived.</summary>
    [Range(1, 86_400)] public int ReceiveSeconds { get; init; } = 1_800;

    /// <summary>Card ids of one sender a day that may lead nowhere; each one more slows it by a second.</summary>
    [Range(1, 10_000_000)] public int UnmatchedCardsPerDay { get; init; } = 500;

    /// <summary>Requests of one sender a minute; as many may come at once after a quiet minute.</summary>
    [Range(1, 10_000_000)] public int RequestsPerMinute { get; init; } = 6_000;

    /// <summary>Requests of one sender that are worked on at once; as many wait.</summary>
    [Range(1, 1_000)] public int AtOncePerSender { get; init; } = 32;

    /// <summary>Requests of all senders that are worked on at once; as many wait.</summary>
    [Range(1, 10_000)] public int AtOnce { get; init; } = 256;

    /// <summary>Of them bodies of more than 32 KiB, or of a length that is not said, and workbooks and forms: of one sender; twice as many
    /// wait.</summary>
    [Range(1, 1_000)] public int LargeAtOncePerSender { get; init; } = 4;

    /// <summary>The same of all senders; as many wait. Each may hold a connection to the database, or a Bundle in memory.</summary>
    [Range(1, 10_000)] public int LargeAtOnce { get; init; } = 32;

    /// <summary>Dry runs at once, each held in memory; twice as many wait.</summary>
    [Range(1, 100)] public int DryRunsAtOnce { get; init; } = 4;
}
