namespace Registry.Accounts;

/// <summary>What the pages of accounts answer, in words.</summary>
internal static class AccountWords
{
    public const string EnterEmail = "Enter your e-mail address.";
    public const string EnterPassword = "Enter your password.";

    public const string EnterNewPassword = "Enter a new password.";
    public const string EnterName = "Enter the name.";

    /// <summary>The same whether the address is unknown, the password wrong, the person disabled or the try too soon.</summary>
    public const string NotSignedIn = "These do not match, or it was tried too often: then wait a few minutes before you try again.";
    public const string TooManyTries = "Too many are signing in at this moment. Nothing was looked at; try again in a minute.";

    public const string NotYourPassword = "This is not your password now.";
    public const string SamePassword = "The new password is the one you have.";
    public const string PasswordChanged = "The password is changed. Your other sessions are ended.";
    public const string ChooseRole = "Choose the role.";
    public const string NeedsSite =
        "Only administrators, coordinators, auditors, case workers and epidemiologists belong to the program: choose the site.";
    public const string NeedsNoSite =
        "Administrators, coordinators, auditors, case workers and epidemiologists belong to the program and to no site.";
    public const string CountiesOfCaseWorkers = "Only a case worker has counties.";
    public const string NoSuchCounty = "There is no such county.";
    public const string NoSuchPerson = "There is no such person.";
    public const string NotOneself = "Another administrator must do this: nobody changes their own role or disables themselves.";
    public const string Placed = "The role is changed. It counts from their next page on.";
    public const string Disabled = "They are signed out and get in no more.";
    public const string Enabled = "They get in again.";
    public const string EndsOn = "Choose a day after today, at most three years on.";
    public const string SiteClosed = "Opens nothing: the site is closed.";
    public const string RunOut = "Run out.";
    public const string Replaced = "Replaced: opens until its end.";

    public static string Of(Records.KeyScope scope) => scope switch
    {
        Records.KeyScope.Send => "Sending rows",
        Records.KeyScope.Read => "Reading records over FHIR",
        _ => "Sending rows, reading records over FHIR",
    };

    public static string Ended(int sessions) => sessions switch
    {
        0 => "There was no session to end.",
        1 => "One session is ended.",
        _ => $"{sessions} sessions are ended.",
    };

    /// <summary>Beside a read of several infants.</summary>
    public const string InList = ", in a list";

    public const string KeyRunsOutSubject = "A site's key runs out soon";

    public static string KeyRunsOut(Records.SiteKey key, string site, DateOnly day, string page) =>
        $"The key {key.Shown} of {site}, used by {key.Name}, opens nothing any more after {day:yyyy-MM-dd}. An administrator "
        + (key.PublicKeys is null
            ? $"replaces it at {page}: the old one and the new one both open for {Access.SiteKeys.Overlap.Days} days, in which the system "
                + "changes over.\n"
            : $"states the system's public keys anew at {page}.\n");

    public const string KeyNotReplaced = "There is no such key in force, or it was replaced before.";
    public const string ChooseSite = "Choose the site.";
    public const string NoSuchSite = "There is no such site.";
    public const string NameSystem = "Name the system that will use the key.";
    public const string NameTooLong = "At most 80 characters.";
    public const string KeyRevoked = "The key is revoked. It is refused from now on.";
    public const string PublicKeysChanged = "Changed. Assertions signed with other keys are refused from now on.";
    public const string CertificatesDemanded = "From the next request on, the key opens nothing without one of these certificates.";
    public const string CertificatesNotDemanded = "No certificate is demanded any more.";
    public const string NoFingerprint = "A line is no SHA-256 fingerprint: 64 hexadecimal digits, with or without colons.";
    public const string NoSuchKey = "There is no such key, or it was revoked before.";
}
