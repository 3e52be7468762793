using Registry.Records;

namespace Registry.SiteQuality;

/// <summary>One site's first-screen counts over a period, as computed by the nightly job. Denominators are ears
/// attempted (invalid rate) and infants with a valid result in both ears or a refer (refer rate); see this folder's README.</summary>
public sealed class SiteRate
{
    public SiteId SiteId { get; init; }
    public DateOnly PeriodStart { get; init; }
    public DateOnly PeriodEnd { get; init; }
    public DateOnly AsOf { get; init; }
    public required string PolicyVersion { get; init; }
    public int Births { get; init; }
    public int InfantsScreened { get; init; }
    public int InfantsReferred { get; init; }
    public int EarTests { get; init; }
    public int EarTestsInvalid { get; init; }
    public int EarTestsReferred { get; init; }
    public DateTimeOffset? LastReceivedAt { get; init; }
}
