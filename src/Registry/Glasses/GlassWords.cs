using Registry.Access;
using Registry.Ui;

namespace Registry.Glasses;

/// <summary>What pages and letters say of breaking the glass.</summary>
public static class GlassWords
{
    public const string FillIn = "Fill in everything: the number, the birth date, the mother's family name, why, and in your own words.";

    /// <summary>The same whatever was wrong.</summary>
    public const string NothingOpened =
        "Nothing was opened. Either no record is certain by these details, or it was tried too often in a day. Check the number on the "
        + "card or bracelet; if it is urgent, call the program.";

    public const string Closed = "The record is closed.";
    public const string NotClosed = "It is not open any more.";
    public const string LetterSubject = "A record was opened by breaking the glass";
    public const string TriesSubject = "Somebody tried to open records too often";

    public static string Opened(int hours) =>
        $"The record is open to you, to be read, for {Words.Count(hours, "hour")}. The coordinators are told.";

    public static string Of(GlassReason reason) => reason switch
    {
        GlassReason.InfantIsHere => "The child is here now",
        GlassReason.FamilyAsks => "The family asks for a result or the next step",
        GlassReason.CareHandedOver => "Care is handed over and no transfer is reported yet",
        _ => "Another reason",
    };

    public static string Who(GlassLine line) =>
        $"{line.Who}, {Words.Of(line.Glass.Role).ToLowerInvariant()}{(line.Site is null ? "" : $" of {line.Site}")}";

    public static string State(GlassLine line) => line switch
    {
        { IsOpen: true } => $"open until {Words.Time(line.Glass.EndsAt)}",
        { Glass.EndedAt: { } ended } => $"closed {Words.Time(ended)} by {line.EndedBy}",
        _ => $"closed by itself {Words.Time(line.Glass.EndsAt)}",
    };

    public static string Letter(string who, OpenedGlass glass, string? site, string page) =>
        $"{who}, {Words.Of(glass.Role).ToLowerInvariant()}{(site is null ? "" : $" of {site}")}, opened a record that is not shown to "
        + $"them, {Words.Time(glass.OpenedAt)}.\n\nWhy, and whose record it is, is at {page}, where you can close it before it closes "
        + $"by itself, {Words.Time(glass.EndsAt)}.\n";

    public static string TriesLetter(string who, string page) =>
        $"{who} tried to open records by breaking the glass as often as one may in a day, and the details led to none. Nothing opens for "
        + $"them for now. Ask them; the tries are listed at {page}.\n";
}
