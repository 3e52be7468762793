using Registry.Records;

namespace Registry.Access;

/// <summary>One read of a person's data: who, when, through which page or endpoint, and whose (or how many infants a list held).
/// Append-only: a trigger refuses update and delete.</summary>
public sealed class AccessRecord
{
    public long Id { get; init; }
    public DateTimeOffset At { get; init; }
    public Guid? PersonId { get; init; }
    public Guid? SiteKeyId { get; init; }

    /// <summary>The route pattern, never a URL with values.</summary>
    public required string Action { get; init; }
    public InfantId? InfantId { get; init; }
    public int InfantCount { get; init; }
}
