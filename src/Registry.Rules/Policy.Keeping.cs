namespace Registry.Rules;

// How long something is kept: what was refused, and a session.
public sealed partial record Policy
{
    [Choice("Refused files kept, days",
        "Days after which the bytes of a file that was refused as a whole are deleted: nothing of it was recorded. That it was sent, by "
            + "whom, and why it was refused stays.",
        "", SourceMark.CommonPractice)]
    public int RefusedFileDays { get; init; } = 90;

    [Choice("Session without a request, minutes", "After so long a person must sign in again; after 12 hours in any case.",
        "NIST SP 800-63B: 30 minutes of inactivity and 12 hours at its second level (from memory).", SourceMark.FromMemory)]
    public int SessionIdleMinutes { get; init; } = 30;
}
