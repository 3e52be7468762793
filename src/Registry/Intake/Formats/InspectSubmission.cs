using Registry.Intake.Rows;

namespace Registry.Intake.Formats;

/// <summary>
/// Looks at a submission's bytes as they arrive: is the file as a whole readable, and how many rows does it hold.
/// Nothing of a file with a problem is applied.
/// </summary>
public abstract class InspectSubmission
{
    public const int MaxProblems = 50;

    public int RowCount { get; protected set; }
    public List<FileProblem> Problems { get; } = [];

    /// <summary>The bytes must be UTF-8 text.</summary>
    public virtual bool IsUtf8 => true;
    public bool IsHopeless => Problems.Count >= MaxProblems;

    /// <summary>The next bytes of the file, in order. Ignored once the file is hopeless.</summary>
    public abstract void Feed(ReadOnlySpan<byte> bytes);

    /// <summary>There are no more bytes.</summary>
    public abstract void End();

    protected void Add(int row, string? field, string reason)
    {
        if (!IsHopeless) Problems.Add(new(row, field, reason));
    }
}
