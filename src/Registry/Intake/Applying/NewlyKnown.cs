namespace Registry.Intake.Applying;

/// <summary>What became known by some rows: the keys by which waiting rows may now find their infant.</summary>
public sealed class NewlyKnown
{
    public List<(Guid Site, string Number)> RecordNumbers { get; } = [];
    public List<string> CardIds { get; } = [];
    public HashSet<DateOnly> BirthDates { get; } = [];

    /// <summary>Infants a fact was added to or retracted from.</summary>
    public HashSet<Guid> Infants { get; } = [];

    public void Add(NewlyKnown other)
    {
        RecordNumbers.AddRange(other.RecordNumbers);
        CardIds.AddRange(other.CardIds);
        BirthDates.UnionWith(other.BirthDates);
        Infants.UnionWith(other.Infants);
    }

    public bool IsEmpty => RecordNumbers.Count == 0 && CardIds.Count == 0 && BirthDates.Count == 0 && Infants.Count == 0;
}
