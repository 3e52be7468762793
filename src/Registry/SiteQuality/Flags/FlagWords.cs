using System.Globalization;
using Registry.SiteQuality.Equipment;
using Registry.Ui;

namespace Registry.SiteQuality.Flags;

/// <summary>What pages and letters of flags say.</summary>
public static class FlagWords
{
    public const string Lead =
        "Standing problems the nightly comparison raised. Each stands until somebody closes it; then evidence is collected anew.";

    public const string NoNames = "No names of infants, families or screeners: the coordinators read it too.";

    public static string Of(FlagFilter filter) => Words.Of((Enum)filter);

    public static string Of(FlagStanding standing, DateOnly today) => standing.State switch
    {
        FlagState.New => "New, nobody has looked",
        FlagState.Acted => "Something was done",
        FlagState.Watched when standing.WatchedUntil <= today => $"Watched until {Words.Date(standing.WatchedUntil)}: look again",
        FlagState.Watched => $"Watched until {Words.Date(standing.WatchedUntil)}",
        FlagState.Closed => $"Closed {Words.Date(standing.ClosedOn)}",
        _ => Words.Of((Enum)standing.State),
    };

    public static string Of(ClosingReason reason) => reason switch
    {
        ClosingReason.PutRight => "Something was wrong and is put right",
        ClosingReason.Explained => "Explained: nothing is wrong",
        ClosingReason.NothingFound => "Looked at, nothing found",
        _ => "Results were recorded wrongly",
    };

    /// <summary>"has seen it", as it follows a name.</summary>
    public static string Did(FlagAct act) => act.Kind switch
    {
        FlagActKind.Seen => "has seen it",
        FlagActKind.Explained => "explained",
        FlagActKind.Acted => $"did something on {Words.Date(act.Day)}",
        FlagActKind.Watched => $"watches it until {Words.Date(act.Day)}",
        FlagActKind.Closed => $"closed it. {Of(act.Reason ?? ClosingReason.NothingFound)}",
        FlagActKind.Reopened => "reopened it",
        _ => "took the act before back",
    };

    public static string Of(FlagAnswer answer) => answer switch
    {
        FlagAnswer.Done => "Kept. What people did is below.",
        FlagAnswer.TookBack => "Taken back. It stays in the history.",
        FlagAnswer.Meanwhile => "Somebody did something meanwhile; nothing of yours was kept. Look below, and send it again if it "
            + "still holds.",
        FlagAnswer.WordsNeeded => "Say it in a few words.",
        FlagAnswer.TooManyWords => $"At most {ActOnFlag.LongestWords} characters.",
        FlagAnswer.DayOfAct => "Give the day it was done: today or before.",
        FlagAnswer.DayOfWatch => "Give a day after today, at most a year ahead.",
        FlagAnswer.ReasonNeeded => "Choose a reason.",
        FlagAnswer.IsClosed => "The flag is closed. Reopen it first.",
        FlagAnswer.IsOpen => "The flag is open.",
        FlagAnswer.AnotherStands => "The same problem was raised again meanwhile: act on that flag.",
        _ => "Only the last act can be taken back, by who did it or a coordinator.",
    };

    public const string LetterSubject = "Flags of the week";

    /// <summary>Counts and links: letters travel open.</summary>
    /// <param name="counts">Of the site, or the region.</param>
    /// <param name="site">Null: the region.</param>
    /// <param name="flags">Where they are.</param>
    /// <param name="also">Of a site, where calibrations are entered; of the region, the page of the week's meeting.</param>
    public static string Letter(FlagCounts counts, string? site, string flags, string also)
    {
        List<string> lines = [];
        if (counts.New > 0) lines.Add($"- new last week: {counts.New}");
        if (counts.Waiting > 0) lines.Add($"- open, and nothing was done yet: {counts.Waiting}");
        if (counts.LookAgain > 0) lines.Add($"- watched until a day that has come: {counts.LookAgain}");
        if (counts.Closed > 0) lines.Add($"- closed last week: {counts.Closed}");
        if (counts.Calibrations > 0)
            lines.Add($"- calibrations due within {ListEvents.RemindDays} days or over: {counts.Calibrations}");
        if (counts.IsEmpty) lines.Add("- nothing new, nothing open");
        return $"{site ?? "All sites"}, screening quality:\n\n{string.Join('\n', lines)}\n\n{flags}\n"
            + (site is null ? $"\nFor the weekly meeting: {also}\n" : counts.Calibrations > 0 ? also + "\n" : "")
            + "\nA flag says where to look first; it is no proof. The manufacturer's instructions and the local protocol come first.\n";
    }

    /// <summary>"Named by the nightly comparison on 3 Oct 2026: the whole site", for every time something else was named.</summary>
    public static IEnumerable<string> Renamed(QualityFinding flag) => flag.Namings.Zip(flag.Namings.Skip(1))
        .Where(n => n.First.Part != n.Second.Part)
        .Select(n => $"Named by the nightly comparison on {Words.Date(n.Second.On)}: {SiteWords.Of(n.Second.Part)}");

    public static string Explains(QualityFinding flag) => flag.Explained is not { } share ? "not known"
        : flag is { ExplainedLeast: { } least, ExplainedMost: { } most } ? $"{Percent(share)} ({Percent(least)} to {Percent(most)})"
        : Percent(share);

    public static string Percent(double share) => (100 * Math.Clamp(share, 0, 1)).ToString("0", CultureInfo.InvariantCulture) + " %";

    public static string Number(double value) => value.ToString("0.0", CultureInfo.InvariantCulture);
}
