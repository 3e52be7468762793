using System.ComponentModel.DataAnnotations;

namespace Registry.Searching;

/// <summary>What the search page takes for a family's own.</summary>
public sealed record SearchingOptions
{
    /// <summary>A telephone or address that stands in more records than this is everybody's (an office, a shelter, one that was made up to
    /// fill a form): it is said so, stands last, and speaks for no family. Common practice, no source.</summary>
    [Range(1, 1_000)] public int SharedByMany { get; init; } = 6;
}
