namespace Registry.Rules.Disclosure;

/// <summary>Which single counts are too small to leave the registry.</summary>
public static class SmallCounts
{
    /// <summary>The lowest usable threshold: below 3 only ones would be hidden, and the mark would give them away.</summary>
    public const int LowestThreshold = 3;

    /// <summary>Non-zero and below the threshold.</summary>
    public static bool IsSmall(long count, int threshold) => count > 0 && count < threshold;
}
