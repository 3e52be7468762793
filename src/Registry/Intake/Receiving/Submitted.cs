using Registry.Intake.Submissions;
using Registry.Records;

namespace Registry.Intake.Receiving;

/// <summary>Why nothing was stored.</summary>
public enum NotStored
{
    TooLarge,

    /// <summary>The site stored as much as it may.</summary>
    StorageFull,

    /// <summary>Larger than is held in memory to be tried.</summary>
    TooLargeToTry,

    /// <summary>The body did not arrive in time.</summary>
    TooSlow,

    BrokeOff,

    /// <summary>The key was used before for other bytes.</summary>
    KeyReused,

    /// <summary>A request with this key is being received at this moment.</summary>
    KeyInUse,

    /// <summary>The sender named too many card ids that lead nowhere: the same can be sent later.</summary>
    SlowedDown,

    /// <summary>The database does not answer: the same can be sent again.</summary>
    Outage,

    /// <summary>A fault of ours.</summary>
    Fault,
}

/// <summary>What <see cref="Submit"/> did. Each door says it in its own words.</summary>
public abstract record Submitted
{
    private Submitted()
    {
    }

    /// <summary>Nothing was stored, as was asked; this would have become of it.</summary>
    public sealed record Tried(Trial Trial) : Submitted;

    /// <param name="Why">Why.</param>
    /// <param name="Seconds">Of a sender that is slowed down: after so long it may send again.</param>
    public sealed record Nothing(NotStored Why, int Seconds = 0) : Submitted;

    /// <summary>The bytes are committed; what became of the rows, as far as they were worked through, is read by its id.</summary>
    /// <param name="Id">The submission.</param>
    /// <param name="Rows">How many rows it has; 0 when it was refused.</param>
    /// <param name="IsRepeated">The same was sent before, and this is that submission.</param>
    public sealed record Stored(SubmissionId Id, int Rows, bool IsRepeated) : Submitted
    {
        /// <summary>When it is at hand already: it says what would be read.</summary>
        public SubmissionAnswer? Answer { get; init; }
    }

    /// <summary>The bytes are committed, but the database failed before their rows were worked through: the sweep does it later.</summary>
    public sealed record Kept(SubmissionId Id) : Submitted;
}
