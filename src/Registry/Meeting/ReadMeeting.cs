using Registry.Access;
using Registry.FollowUp;
using Registry.Intake.HeldRows;
using Registry.PolicyVersions;
using Registry.Rules;
using Registry.SiteQuality.Flags;

namespace Registry.Meeting;

/// <summary>What a team talks about in a week.</summary>
/// <param name="Counts">Infants of each topic.</param>
/// <param name="Lines">The first of each.</param>
/// <param name="FlagsRaised">Open at the end of the day; null for whoever answers for no site.</param>
/// <param name="Rows">That waited at the end of the day, and at the end of the week before; null for whoever decides none.</param>
/// <param name="Policy">In force on the day.</param>
/// <param name="KnownSince">The night that found what had been before it; null where nobody was ever lost.</param>
public sealed record MeetingPapers(
    MeetingWeek Week, IReadOnlyDictionary<MeetingTopic, int> Counts, IReadOnlyList<TopicLine> Lines, IReadOnlyList<FlagLine>? FlagsRaised,
    IReadOnlyList<FlagLine>? FlagsClosed, (WaitingThen Now, WaitingThen Before)? Rows, Policy Policy, DateOnly? KnownSince);

/// <summary>Puts together what a team talks about, of the infants, sites and rows a viewer sees. The page records the read.</summary>
public sealed class ReadMeeting(
    ListTopics topics, FindLossToFollowUp losses, ListFlags flags, CountWaitingThen rows, PolicyStore policies, Viewer viewer)
{
    /// <summary>Of each topic on the page: two pages of paper.</summary>
    public const int Most = 6;

    /// <param name="day">The last day.</param>
    /// <param name="answersForSites">Sees flags.</param>
    /// <param name="decidesRows">Sees held and rejected rows.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<MeetingPapers> AsOfAsync(DateOnly day, bool answersForSites, bool decidesRows, CancellationToken ct)
    {
        var week = MeetingWeek.Of(day);
        return new(
            week, await topics.CountAsync(week, viewer, ct), await topics.RunAsync(week, null, 0, Most, viewer, ct),
            answersForSites ? await FlagsAsync(FlagFilter.Open) : null, answersForSites ? await FlagsAsync(FlagFilter.Closed) : null,
            decidesRows ? (await RowsAsync(day), await RowsAsync(week.Before)) : null,
            await policies.InForceAsync(day, ct), await losses.FirstNightAsync(ct));

        Task<WaitingThen> RowsAsync(DateOnly on) => rows.RunAsync(viewer.IsCoordinator ? null : viewer.SiteId, on, ct);

        Task<IReadOnlyList<FlagLine>> FlagsAsync(FlagFilter filter) => flags.AsOfAsync(filter, null, day, week.From, ct);
    }
}
