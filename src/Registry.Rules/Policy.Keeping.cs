namespace Registry.Rules;

// How long something is kept or open: what was refused, a session, a record opened by breaking the glass.
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

    [Choice("A broken glass closes after, hours",
        "So long somebody sees the record of a child that is not shown to them and that they opened for a stated reason: a shift.",
        "That there is a way in an emergency: 45 CFR 164.312(a)(2)(ii) (from memory); how long: common practice.",
        SourceMark.CommonPractice)]
    public int GlassHours { get; init; } = 8;

    [Choice("Tries to break the glass, a day",
        "So often somebody may say who a child is and be wrong, in 24 hours; then nothing opens for "
        + "them, and the coordinators are told. Who guesses must not find a child by trying.", "", SourceMark.CommonPractice)]
    public int GlassTries { get; init; } = 5;
}
