namespace Registry.SetUp;

/// <summary>What the pages of the set-up say, in words.</summary>
internal static class SetUpWords
{
    public const string EnterAll = "Fill in every field.";
    public const string UnknownZone = "This is no time zone of the IANA list, such as America/Chicago.";
    public const string TooLong = "At most 120 characters each.";
    public const string ProgramSaved = "Saved. It counts from the next page on.";
    public const string PolicyUnknown = "Choose one of the policies.";
    public const string PolicySaved = "The registry starts with this policy.";
    public const string PolicyTooLate = "Infants are recorded already: a policy now begins on a later day, on the page Policy.";
    public const string MailSent = "Sent. Look whether it has come; when it has not, see the settings above and the spam folder.";
    public const string MailNotSent =
        "It did not leave. See that the mail server runs and the settings above name it; the log has the kind of error.";
    public const string MailLater = "Letters are written as files until there is a mail server.";
    public const string TestSubject = "A test of the registry's mail";
    public const string TestText = "This letter shows that the registry reaches you. Nothing else is to be done.\n";

    public const string ProgramStated = "The program has stated its name, region, time zone and telephone";
    public const string PrivacyNamed = "Somebody answers for the privacy of families";
    public const string PolicyChosen = "A policy to start from is chosen";
    public const string MailTried = "Mail leaves, and a test letter was sent";
    public const string BirthingSite = "There is a site where infants are born";
    public const string Coordinator = "A coordinator can sign in";
    public const string SecondAdministrator = "A second administrator, for the day the first is away";
    public const string SecondFactors = "Whoever sees more than one site has a second factor";
    public const string FirstUpload = "A site's rows were accepted";
    public const string Backup = "A backup was taken within the last day (the verb backup)";

    public static string Called(int missing) => missing == 0 ? "Every open place names who is called about late data"
        : $"Every open place names who is called about late data ({missing} {(missing == 1 ? "does" : "do")} not)";

    public static string Of(SetUpStep step) => step switch
    {
        SetUpStep.Program => "Program",
        SetUpStep.Policy => "Policy",
        SetUpStep.Mail => "Mail",
        SetUpStep.Places => "Places",
        SetUpStep.People => "People",
        _ => "First site key",
    };
}
