namespace Registry.Records;

/// <summary>A version of the program's policy: data, effective-dated, never edited once in force.</summary>
public sealed class PolicyRecord
{
    public required string Version { get; init; }
    public DateOnly EffectiveFrom { get; init; }
    public required string Document { get; init; }
    public DateTimeOffset RecordedAt { get; init; }
    public Guid? RecordedBy { get; init; }

    /// <summary>Taken back before its first day: it was never in force.</summary>
    public DateTimeOffset? WithdrawnAt { get; set; }
    public Guid? WithdrawnBy { get; set; }
}
