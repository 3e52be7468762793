using System.ComponentModel.DataAnnotations;

namespace Registry.Intake;

/// <summary>Limits of what one submission may be, and how it is worked through.</summary>
public sealed record IntakeOptions
{
    /// <summary>Largest body accepted, in bytes.</summary>
    [Range(1_000, 4_000_000_000)] public long MaxBytes { get; init; } = 512L * 1024 * 1024;

    /// <summary>Most rows one submission may hold.</summary>
    [Range(1, 10_000_000)] public int MaxRows { get; init; } = 1_000_000;

    /// <summary>Up to this many rows the answer waits for the outcomes; more are worked through in the background.</summary>
    [Range(0, 10_000)] public int InlineRows { get; init; } = 1_000;

    /// <summary>Rows committed together.</summary>
    [Range(1, 20_000)] public int ChunkRows { get; init; } = 2_000;
}
