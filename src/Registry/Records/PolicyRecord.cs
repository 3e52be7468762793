namespace Registry.Records;

/// <summary>A version of the program's policy: data, effective-dated, never edited once in force.</summary>
public sealed class PolicyRecord
{
    public required string Version { get; init; }
    public DateOnly EffectiveFrom { get; init; }
    public required string Document { get; init; }
    public DateTimeOffset RecordedAt { get; init; }
    public Guid? RecordedBy { get; init; }
}
