using Registry.Records;

namespace Registry.Infants.Record;

/// <summary>Model of <c>_ContactFields</c>: what the form of a call holds, where an appointment can be, what clinics have open, and what
/// its fields' ids end in.</summary>
public sealed record ContactFields(ContactForm Form, IReadOnlyList<Site> Sites, IReadOnlyList<OfferedOpening> Openings, string Key);
