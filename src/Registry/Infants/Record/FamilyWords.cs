using Registry.Facts;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>How the family and who cares for the child read.</summary>
public static class FamilyWords
{
    public const string MayNotBeTold = "Must not be told of the child's hearing";

    public static string Of(FamilyRelation relation) => relation switch
    {
        FamilyRelation.Self => "Child's home",
        FamilyRelation.Agency => "Agency (child protection)",
        FamilyRelation.Guardian => "Legal guardian",
        _ => Words.Of((Enum)relation),
    };

    public static string Who(ReportedFamilyContact person) =>
        person.Name is { } name ? $"{Of(person.Kind)}, {name}" : Of(person.Kind);

    public static string Address(ReportedFamilyContact person) => Join(", ", person.Street,
        Join(" ", person.City, person.State, person.PostalCode));

    /// <summary>How to speak with somebody.</summary>
    public static string Speaks(ReportedFamilyContact person) => Join(", ",
        Words.Language(person.Language) is { } language ? $"speaks {language}" : null,
        person.InterpreterNeeded switch { true => "needs an interpreter", false => "needs no interpreter", _ => null });

    /// <summary>How and when somebody is best reached.</summary>
    public static string Prefers(ReportedFamilyContact person) => Join(", ",
        person.PreferredChannel is { } channel ? $"best by {Words.Within(Words.Of((Enum)channel))}" : null, person.PreferredHours);

    /// <summary>In which language, and how and when best.</summary>
    public static string HowToSpeak(ReportedFamilyContact person) => Join(" · ", Speaks(person), Prefers(person));

    /// <summary>Where a guardian decides, or somebody must not be told: what whoever calls has to know first.</summary>
    public static IEnumerable<string> Warnings(FamilyNow family)
    {
        foreach (var guardian in family.Guardians)
            yield return $"{Who(guardian)}, holds custody and decides for the child. Call there"
                + (family.ToCall.All(p => p.HoldsCustody == true) ? ", and nobody else." : ".");
        foreach (var person in family.NotTold)
            yield return $"{Who(person)}, must not be told of the child's hearing: do not call, write or leave a message there.";
    }

    /// <summary>What is said beside a name.</summary>
    public static IEnumerable<string> Tags(ReportedFamilyContact person)
    {
        if (person.MayBeTold is { } told) yield return told ? "May be told" : MayNotBeTold;
        if (person.HoldsCustody is { } custody) yield return custody ? "Holds custody" : "Does not hold custody";
    }

    /// <summary>What else is known of a person beside name and telephones, a line each.</summary>
    public static IEnumerable<string> Details(ReportedFamilyContact person) =>
        new[] { person.Email ?? "", Address(person), Speaks(person), Prefers(person) }.Where(line => line.Length > 0);

    /// <summary>Whether letters go out, and to whom.</summary>
    public static string Reminders(ReportedBirth birth, FamilyNow family) => birth switch
    {
        _ when family.Mother?.Email is null => "no e-mail address",
        { EmailConsent: not true } => "the family has not agreed to be written to",
        _ when !family.MotherMayBeWrittenTo => "none: who is written to may not be told",
        _ => $"to {family.Mother!.Email}, as agreed",
    };

    public static string Phone(string number, PhoneUse? use) =>
        use is { } kind ? $"{number} ({Words.Within(Words.Of((Enum)kind))})" : number;

    /// <summary>A statement as the story and the time line have it.</summary>
    public static string Said(ReportedFamilyContact said) => Join(" · ", said.Name,
        said.Phone is { } phone ? Phone(phone, said.PhoneUse) : null,
        said.OtherPhone is { } other ? Phone(other, said.OtherPhoneUse) : null,
        said.Email, Address(said), Speaks(said), Prefers(said),
        said.HoldsCustody switch { true => "holds custody", false => "does not hold custody", _ => null },
        said.MayBeTold switch { true => "may be told", false => "must not be told", _ => null });

    public static string Said(ReportedCare said) => Join(" · ", PrimaryCare(said), said.Insurance is { } pays ? $"insurance {pays}" : null);

    public static string PrimaryCare(ReportedCare care) => Join(", ", care.PrimaryCare, care.PrimaryCarePhone, Confirmed(care));

    private static string? Confirmed(ReportedCare care) => care.PrimaryCareConfirmed switch
    {
        true => "confirmed",
        false => "not confirmed",
        _ => care.PrimaryCare is null ? null : "not yet confirmed",
    };

    private static string Join(string between, params string?[] parts) =>
        string.Join(between, parts.Where(p => !string.IsNullOrEmpty(p)));
}
