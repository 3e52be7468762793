using Registry.Records;
using Registry.Rules.Facts;

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

    public static readonly string Kind = $"Kinds are: {All<SiteKind>()}.";
    public static readonly string CareLevels = $"Levels are: {All<CareLevel>()}.";
    public static readonly string Services = $"Services are, separated by semicolons: {All<ClinicService>()}.";

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

    private static string All<T>() where T : struct, Enum => string.Join(", ", Enum.GetValues<T>().Select(v => Codes.Of(v)));
}
