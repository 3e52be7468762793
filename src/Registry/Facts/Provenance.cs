using Registry.Records;

namespace Registry.Facts;

/// <summary>Which row says something, who sent it, and when we knew.</summary>
/// <param name="SubmissionId">Its submission.</param>
/// <param name="RowNumber">Its number there.</param>
/// <param name="SiteId">Who said it.</param>
/// <param name="RecordedAt">When we knew.</param>
/// <param name="Kind">The kind of row.</param>
/// <param name="Action">What it does with what its site said before.</param>
public readonly record struct Provenance(
    SubmissionId SubmissionId, int RowNumber, SiteId SiteId, DateTimeOffset RecordedAt, RowKind Kind, RowAction Action);
