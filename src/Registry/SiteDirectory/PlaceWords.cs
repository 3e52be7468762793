using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.SiteDirectory;

/// <summary>What the pages of places say, in words.</summary>
public static class PlaceWords
{
    public const string Code = "2 to 40 small letters, figures and single hyphens. It stands in files and addresses, and stays.";
    public const string CodeTaken = "Another place has this code.";
    public const string Name = "Enter the name, at most 120 characters.";
    public const string NameTaken = "Another place has this name.";
    public const string YesOrNo = "yes or no.";
    public const string Npi = "This is no National Provider Identifier: ten figures, whose last one checks the others.";
    public const string Email = "This is no e-mail address.";
    public const string Ages = "The oldest age comes after the youngest.";
    public const string Months = "Whole months, at most 252.";
    public const string ArrivalDays = "Whole days, 1 to 90.";
    public const string Day = "A date such as 2026-03-31.";
    public const string ClosesAfterOpening = "It closes after it opened.";
    public const string ClosesOnTheDay = "Close it on the day or after: until then it sends.";
    public const string ContinuedByOpen = "Choose a place that is open.";
    public const string ContinuedWhenClosed = "An open place is continued by nobody: say when it closed.";
    public const string Added = "The place is added.";
    public const string Saved = "Saved. What was before is in the history.";
    public const string ChooseFile = "Choose a file, or paste its rows.";
    public const string SavedMeanwhile = "Somebody else saved a place with this code or name meanwhile. Look again.";

    public static readonly string Kinds = All<SiteKind>(), Levels = All<CareLevel>(), ServiceCodes = All<ClinicService>();
    public static readonly string Kind = $"Kinds are: {Kinds}.";
    public static readonly string CareLevels = $"Levels are: {Levels}.";
    public static readonly string Services = $"Services are, separated by semicolons: {ServiceCodes}.";

    public static string TooLong(int most) => $"At most {most} characters.";

    public static string County(IReadOnlyList<string> counties) =>
        counties.Count == 0 ? "Enter the county." : $"Counties of the program are: {string.Join(", ", counties)}.";

    public static string Done(int added, int changed) =>
        $"{added} {(added == 1 ? "place is" : "places are")} added, {changed} changed.";

    public static string Of(CareLevel level) => level switch
    {
        CareLevel.LevelOne => "I, well newborn nursery",
        CareLevel.LevelTwo => "II, special care nursery",
        CareLevel.LevelThree => "III, NICU",
        _ => "IV, regional NICU",
    };

    /// <summary>A column of what changed, as its field is called.</summary>
    public static string Column(string column) => column switch
    {
        "has_nicu" => "NICU",
        "care_level" => "Level of care",
        "state_number" => "Number given by the state",
        "npi" => "NPI",
        "contact_name" => "Contact",
        "contact_phone" => "Telephone",
        "contact_email" => "E-mail",
        "youngest_months" => "Youngest age, months",
        "oldest_months" => "Oldest age, months",
        "counties_served" => "Counties served",
        "arrival_days" => "Agreed arrival, days",
        "open_from" => "Open from",
        "closed_on" => "Closed on",
        "continued_by" => "Continued by",
        _ => char.ToUpperInvariant(column[0]) + column[1..],
    };

    /// <summary>What stood in it.</summary>
    /// <param name="column">Which.</param>
    /// <param name="value">As it is stored.</param>
    /// <param name="place">The name of a place by its id.</param>
    public static string Value(string column, string? value, Func<string, string?> place) => value is null ? "nothing" : column switch
    {
        "kind" => Words.Of((Enum)Codes.Parse<SiteKind>(value)),
        "care_level" => Of(Codes.Parse<CareLevel>(value)),
        "services" => string.Join("; ", value.Split("; ").Select(s => Words.Of((Enum)Codes.Parse<ClinicService>(s)))),
        "has_nicu" => bool.Parse(value) ? "yes" : "no",
        "continued_by" => place(value) ?? "a place that is gone",
        _ when DateOnly.TryParseExact(value, "yyyy-MM-dd", out var day) => Words.Date(day),
        _ => value,
    };

    private static string All<T>() where T : struct, Enum => string.Join(", ", Enum.GetValues<T>().Select(v => Codes.Of(v)));
}
