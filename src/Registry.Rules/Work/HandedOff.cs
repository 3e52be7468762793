namespace Registry.Rules.Work;

/// <summary>An infant was handed to somebody who is to take it on, and the hand-off stands.</summary>
/// <param name="AcknowledgeBy">The last day its receipt is in time.</param>
/// <param name="AcknowledgedOn">The day it was said to have arrived; null: nothing was heard.</param>
public readonly record struct HandedOff(DateOnly AcknowledgeBy, DateOnly? AcknowledgedOn);
