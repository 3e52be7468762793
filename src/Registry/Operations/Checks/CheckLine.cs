namespace Registry.Operations.Checks;

public enum CheckState
{
    Sound,

    /// <summary>It works, and something should be done.</summary>
    Attention,

    /// <summary>It does not work, or is not safe.</summary>
    Broken,
}

/// <summary>One thing that was looked at.</summary>
/// <param name="State">How it is.</param>
/// <param name="Subject">What.</param>
/// <param name="Says">What was found; holds nothing secret and nothing of a person.</param>
/// <param name="Do">What to do; null when nothing.</param>
public sealed record CheckLine(CheckState State, string Subject, string Says, string? Do = null)
{
    public static CheckLine Sound(string subject, string says) => new(CheckState.Sound, subject, says);
    public static CheckLine Attention(string subject, string says, string what) => new(CheckState.Attention, subject, says, what);
    public static CheckLine Broken(string subject, string says, string what) => new(CheckState.Broken, subject, says, what);
}
