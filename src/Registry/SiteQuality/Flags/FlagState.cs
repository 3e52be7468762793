namespace Registry.SiteQuality.Flags;

/// <summary>How far a flag has come: the last of these that somebody did and nobody took back. What is done about one that is watched
/// comes after watching it.</summary>
public enum FlagState { New, Seen, Explained, Acted, Watched, Closed }

/// <summary>What a flag's acts come to.</summary>
/// <param name="State">How far it has come.</param>
/// <param name="WatchedUntil">Null unless it is watched.</param>
/// <param name="ClosedOn">The day it was closed; null while it is open.</param>
/// <param name="Last">The last act that may be taken back; null without one.</param>
public sealed record FlagStanding(FlagState State, DateOnly? WatchedUntil, DateOnly? ClosedOn, FlagAct? Last)
{
    /// <param name="acts">In order of their numbers.</param>
    /// <param name="dayOf">The day of a moment.</param>
    public static FlagStanding Of(IReadOnlyList<FlagAct> acts, Func<DateTimeOffset, DateOnly> dayOf)
    {
        var back = acts.Select(a => a.TakesBack).ToHashSet();
        var valid = acts.Where(a => a.Kind != FlagActKind.TakenBack && !back.Contains(a.Number)).ToList();
        if (valid.Count == 0) return new(FlagState.New, null, null, null);
        // Reopened begins again, with what was done before in the history.
        var since = valid.FindLastIndex(a => a.Kind == FlagActKind.Reopened);
        var current = since < 0 ? valid : valid[since..];
        var watched = current.FindLast(a => a.Kind == FlagActKind.Watched);
        if (current.Exists(a => a.Kind == FlagActKind.Acted && a.Number > watched?.Number)) watched = null;
        var state = current.Max(a => a.Kind switch
        {
            FlagActKind.Explained => FlagState.Explained,
            FlagActKind.Acted => FlagState.Acted,
            FlagActKind.Watched when watched is not null => FlagState.Watched,
            FlagActKind.Closed => FlagState.Closed,
            _ => FlagState.Seen,
        });
        return new(state,
            state == FlagState.Watched ? watched?.Day : null,
            state == FlagState.Closed ? dayOf(current.Last(a => a.Kind == FlagActKind.Closed).At) : null, valid[^1]);
    }
}
