using Registry.Rules.Facts;

namespace Registry.Infants.Record;

/// <summary>Model of <c>_ContactForm</c>: for whom, which step is proposed, and which list to return to (a local path) or null.</summary>
public sealed record ContactFormView(Guid Infant, PathStep Step, string? ReturnTo);
