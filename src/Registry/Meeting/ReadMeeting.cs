using Registry.Access;
using Registry.Intake.HeldRows;
using Registry.SiteQuality.Flags;

namespace Registry.Meeting;

/// <summary>What a team talks about in a week.</summary>
/// <param name="Counts">Infants of each topic.</param>
/// <param name="Lines">The first of each.</param>
/// <param name="FlagsRaised">Open at the end of the day; null for whoever answers for no site.</param>
/// <param name="RowsWaiting">Held and rejected rows that have waited longer than a month, today; null for whoever decides none, and on a
/// past day.</param>
public sealed record MeetingPapers(
    MeetingWeek Week, IReadOnlyDictionary<MeetingTopic, int> Counts, IReadOnlyList<TopicLine> Lines, IReadOnlyList<FlagLine>? FlagsRaised,
    IReadOnlyList<FlagLine>? FlagsClosed, int? RowsWaiting);

/// <summary>Puts together what a team talks about, of the infants, sites and rows a viewer sees. The page records the read.</summary>
public sealed class ReadMeeting(ListTopics topics, ListFlags flags, ListWaitingRows rows, Viewer viewer)
{
    /// <summary>Of each topic on the page: two pages of paper.</summary>
    public const int Most = 6;

    /// <param name="day">The last day.</param>
    /// <param name="answersForSites">Sees flags.</param>
    /// <param name="decidesRows">Sees held and rejected rows: of today.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<MeetingPapers> AsOfAsync(DateOnly day, bool answersForSites, bool decidesRows, CancellationToken ct)
    {
        var week = MeetingWeek.Of(day);
        return new(
            week, await topics.CountAsync(week, viewer, ct), await topics.RunAsync(week, null, 0, Most, viewer, ct),
            answersForSites ? await FlagsAsync(FlagFilter.Open) : null, answersForSites ? await FlagsAsync(FlagFilter.Closed) : null,
            decidesRows ? (await rows.OverviewAsync(
                new(viewer.IsCoordinator ? null : viewer.SiteId, Age: WaitingAge.Older), ct)).Total : null);

        Task<IReadOnlyList<FlagLine>> FlagsAsync(FlagFilter filter) => flags.AsOfAsync(filter, null, day, week.From, ct);
    }
}
