namespace Registry.Intake.Formats.Hl7V2;

/// <summary>A part of a message: segment by its index in the message (0-based), the rest 1-based as the standard counts; 0 is "the
/// whole".</summary>
public readonly record struct Location(int Segment, int Field = 0, int Repetition = 0, int Component = 0);

/// <summary>Why a message cannot be read at all.</summary>
/// <param name="Code">Of HL7 table 0357.</param>
public sealed record UnreadableMessage(Location At, int Code, string Reason);
