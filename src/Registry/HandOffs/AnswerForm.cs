using Registry.Records;

namespace Registry.HandOffs;

/// <summary>The buttons under a hand-off.</summary>
/// <param name="HandOff">Its id.</param>
/// <param name="Action">The address they are sent to.</param>
/// <param name="May">What may be said.</param>
/// <param name="About">Whom or what it is about, for who hears the buttons.</param>
public sealed record AnswerForm(Guid HandOff, string Action, IReadOnlyList<HandOffAct> May, string About);
