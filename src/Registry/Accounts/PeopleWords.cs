using Registry.Records;
using Registry.Ui;

namespace Registry.Accounts;

/// <summary>What the pages of people and second factors answer, in words.</summary>
internal static class PeopleWords
{
    public const string EnterCode = "Enter the code.";
    public const string WrongCode = "This is no code of now, it was used before, or it was tried too often: then wait a few minutes.";
    public const string NoPasskey = "The passkey was not taken: none was shown, or it is not of this registry any more.";
    public const string PasskeyAdded = "The passkey is added. It signs you in without password and code.";
    public const string PasskeyRemoved = "The passkey signs you in no more.";
    public const string HasPlace = "They work there already.";
    public const string NoSuchPlace = "There is no such place.";
    public const string PlaceAdded = "Added. They choose where they work on the page Your sign-in.";
    public const string PlaceRemoved = "Taken away. It counts from their next page on.";
    public const string FactorTaken = "Taken away, and they are signed out. Their next sign-in asks for a new one where one is required.";
    public const string NoFactor = "They have no second factor.";
    public const string TakenBack = "Taken back: it is as it was before.";
    public const string NothingToTakeBack = "There is nothing to take back.";
    public const string NothingInFile = "Everybody in the file is there already, as it says: nothing changes.";
    public const string OtherCounties = "They have this role with other counties: change it on their page.";
    public const string IsDisabled = "They are disabled: let them in again on their page first.";
    public const string ChooseFile = "Choose a file, or paste its rows.";
    public const string WorksThere = "You work there from this page on.";

    public static string Of(OpenIdRefusal refusal) => refusal switch
    {
        OpenIdRefusal.NoPlace => "You are known there, but it names no role for you in this registry. Ask whoever runs that sign-in to add "
            + "you to a group of the registry.",
        OpenIdRefusal.NotInvited => "You are known there, but nobody invited you to this registry, or the invitation has run out. Ask the "
            + "program for a new one, to the address you sign in with.",
        OpenIdRefusal.NoAddress => "You are known there, but it states no e-mail address for you, which this registry needs.",
        OpenIdRefusal.AddressTaken => "Somebody with your e-mail address is in this registry already. Ask an administrator to send that "
            + "person a new link; then sign in again.",
        OpenIdRefusal.Disabled => "You do not get into this registry any more. Call the program if that is a mistake.",
        _ => "That sign-in was not finished. Try again; if it happens again, call the program.",
    };

    /// <summary>What is particular about somebody; null for whoever gets in.</summary>
    public static string? StateOf(Person person) =>
        person.DisabledAt is not null ? "Disabled" : person.PasswordHash is null ? "Invited" : null;

    public static string LetterSubject(string program) => $"Your sign-in to {program}";

    public static string Letter(string name, string program, string link, string phone) =>
        $"Dear {name},\n\nthis link lets you choose a password for {program}:\n\n{link}\n\nIt opens once, within "
        + $"{Access.OneTimeLinks.PasswordLasts.Days} days. If you did not expect it, call {phone} and do not open it.\n";

    public static string Of(PersonChange change, Func<SiteId?, string> site) => change.Kind switch
    {
        "insert" => $"Added as {Place(change.After, site)}",
        "place_added" => $"Also {Place(change.After, site)}",
        "place_removed" => $"No longer {Place(change.Before, site)}",
        _ => string.Join("; ", Differences(change, site)) is { Length: > 0 } said ? said : "Changed",
    };

    private static IEnumerable<string> Differences(PersonChange change, Func<SiteId?, string> site)
    {
        if (change is not { Before: { } before, After: { } after }) yield break;
        if (before.Name != after.Name) yield return "Renamed";
        if (Place(before, site) != Place(after, site)) yield return $"{Place(before, site)} → {Place(after, site)}";
        if (before.Disabled != after.Disabled) yield return after.Disabled ? "Disabled" : "Let in again";
    }

    private static string Place(PersonState? state, Func<SiteId?, string> site) =>
        state is null ? "" : Place(state.Role, site(state.Site), state.Placing.Counties);

    /// <summary>"Screener, Hill Audiology"; "Case worker of Lind and Mere"; "Case worker of assigned infants".</summary>
    public static string Place(Role role, string? site, IReadOnlyList<string> counties) =>
        role != Role.CaseWorker ? site is null ? Words.Of(role) : $"{Words.Of(role)}, {site}"
        : $"{Words.Of(role)} of {(counties.Count > 0 ? Words.List(counties) : "assigned infants")}";

    public static string RowOf(PersonRow row) => row switch
    {
        { Problem: { } problem } => problem,
        { Change: PersonRowChange.Invited } => "Invited",
        { Change: PersonRowChange.PlaceAdded } => "One more role",
        _ => "There already: nothing changes",
    };

    public static string DoFile(IReadOnlyList<PersonRow> rows) => string.Join(", ", new[]
    {
        (rows.Count(r => r.Change == PersonRowChange.Invited), "person is invited", "people are invited"),
        (rows.Count(r => r.Change == PersonRowChange.PlaceAdded), "role is added", "roles are added"),
    }.Where(p => p.Item1 > 0).Select(p => Words.Count(p.Item1, p.Item2, p.Item3)));
}
