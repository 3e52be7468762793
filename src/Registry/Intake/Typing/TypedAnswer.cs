namespace Registry.Intake.Typing;

/// <summary>What a page that keeps what was typed until it is sent is told of it.</summary>
/// <param name="Saved">The submission; null when nothing was stored.</param>
/// <param name="Problems">What is wrong, by column and reason: to be corrected.</param>
/// <param name="Look">What a person should see before it is saved; saved as it is when they say so.</param>
/// <param name="Seen">What is known of the infant by now: goes along with what is sent next.</param>
public sealed record TypedAnswer(Guid? Saved, IReadOnlyList<string> Problems, IReadOnlyList<string> Look, string? Seen);
