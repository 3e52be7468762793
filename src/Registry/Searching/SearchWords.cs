using Registry.Infants.Record;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;
using Registry.Rules.Work;
using Registry.Ui;

namespace Registry.Searching;

/// <summary>What pages say of searches for families and of closed work.</summary>
public static class SearchWords
{
    public const string Caution =
        "These records only may belong to the child or its family. Ask before you say anything of one family to another, and call nobody "
            + "about a child whose guardian they are not. Your program's rules and the law say where you may look.";

    public const string ClosingCaution =
        "Closing ends the calls, not the need: a refer is not a diagnosis, and the child is still to be seen. Figures follow what is "
            + "recorded, and not this. A result, an appointment, a birth stated anew or a family that is reached opens it again by itself.";

    public const string ToldReopened = "Follow-up opened again";

    /// <summary>Reasons of the survey that are facts: entered as such, they end the work by themselves.</summary>
    public static readonly IReadOnlyList<(string Code, string Words)> ByFact =
    [
        (Codes.Of(RowKind.Refusal), "The family declined"), (Codes.Of(RowKind.Move), "Moved, adopted, or not a resident"),
        (Codes.Of(RowKind.Death), "The child died"), (Codes.Of(RowKind.MedicalDelay), "A medical reason, for now"),
        (Codes.Of(RowKind.Transfer), "In the care of another site"),
    ];

    public static string Of(SearchPlace place) => place switch
    {
        SearchPlace.Registry => "This registry",
        SearchPlace.BirthSite => "Birth site",
        SearchPlace.PrimaryCare => "Primary care",
        SearchPlace.Audiology => "Audiology clinics",
        SearchPlace.Mail => "Letter by mail",
        SearchPlace.Wic => "WIC",
        SearchPlace.BloodSpotProgram => "Blood-spot program",
        SearchPlace.OtherState => "Another state's program",
        SearchPlace.Other => "Elsewhere",
        _ => Words.Of((Enum)place),
    };

    public static string Of(SearchResult result) => result switch
    {
        SearchResult.Nothing => "Nothing",
        SearchResult.NewPhone => "A new phone",
        SearchResult.NewAddress => "A new address",
        SearchResult.Moved => "The family moved away",
        SearchResult.SameInfant => "The same child, recorded twice",
        _ => "Something else",
    };

    /// <summary>What is done next with what a search brought: the words, and the kind of entry.</summary>
    public static (string Words, string? Enter)? Next(SearchResult result) => result switch
    {
        SearchResult.NewPhone or SearchResult.NewAddress =>
            ("Enter it in the record, so that it is called", Codes.Of(RowKind.FamilyContact)),
        SearchResult.Moved => ("Enter the move", Codes.Of(RowKind.Move)),
        SearchResult.SameInfant => ("Tell the site whose record number is the wrong one: it merges the two", null),
        _ => null,
    };

    public static string Of(SurveyCategory reason) => reason switch
    {
        SurveyCategory.Unresponsive => "Contacted, unresponsive",
        SurveyCategory.UnableToContact => "Unable to contact",
        SurveyCategory.Unknown => "Unknown",
        _ => "Other",
    };

    public static string Of(FamilyTie tie) => tie == FamilyTie.SameInfant ? "Perhaps the same child" : "Perhaps a brother or sister";

    public static string Of(Agreement agreement) => agreement switch
    {
        Agreement.Card => "blood-spot card",
        Agreement.BirthDate => "birth date",
        Agreement.MotherFamilyName => "mother's family name",
        Agreement.MotherGivenName => "mother's given name",
        Agreement.MotherBirthDate => "mother's birth date",
        _ => "phone",
    };

    /// <summary>"Mother, Ada Marlow; of Tom: perhaps a brother or sister (Harbour Hospital, 3 Dec 2026)".</summary>
    public static string Of(WhoseWay whose) => string.Concat(
        FamilyWords.Of(whose.Relation), whose.Name is { } name ? $", {name}" : "",
        whose.OfAnother is not { } other ? ""
            : $"; of {(other.Child.Length > 0 ? other.Child : "another infant")}: {Words.Within(Of(other.Tie))}",
        $" ({whose.Site}, {Words.Date(DateOnly.FromDateTime(whose.RecordedAt.UtcDateTime))}",
        whose.OfAnother is null && !whose.IsCurrent ? ", replaced since)" : ")");

    public static string Shared(ContactWay way) =>
        $"shared by many: in {Words.Count(way.Records)} records or more, so it is no family's own";

    public static string Of(Seen seen) => $"{EnterWords.Of(seen.Kind)}, {Words.Date(seen.On)}";

    public static string Places(SearchRecord search) =>
        string.Join(", ", search.LookedAt.Select(code => Words.Within(Of(Codes.Parse<SearchPlace>(code)))));

    public static string Told(SearchLine line) => $"Searched for: {Words.Within(Of(line.Search.Result))}";

    public static string Detail(SearchLine line) =>
        $"Looked at {Places(line.Search)}{(line.Note is { } note ? $": {note}" : "")} ({line.By})";

    public static string Told(WorkClosing closing) => $"Follow-up closed: {Words.Within(Of(closing.Reason))}";

    public static string Of(SearchAnswer answer) => answer switch
    {
        SearchAnswer.Recorded => "The search is recorded.",
        SearchAnswer.TakenBack => "The search was taken back. It stays readable.",
        SearchAnswer.Closed => "Closed. It stands under \"Closed\" in the work list and can be opened again.",
        SearchAnswer.Reopened => "Open again.",
        SearchAnswer.Already => "This search is recorded already: the form came twice.",
        SearchAnswer.NoPlace => "Say where you looked. Nothing was recorded.",
        SearchAnswer.NoResult => "Say what the search brought. Nothing was recorded.",
        SearchAnswer.InTheFuture => "The day of the search lies in the future, or is missing. Nothing was recorded.",
        SearchAnswer.TooLong => "The note is too long. Nothing was recorded.",
        SearchAnswer.NotYours => "There is no such search that you may take back.",
        SearchAnswer.NothingDue => "Nothing is due about this infant, so there is nothing to close.",
        SearchAnswer.NoReason => "Choose why it is closed. Nothing was changed.",
        SearchAnswer.ClosedMeanwhile => "Somebody closed it, or opened it again, meanwhile. It is shown as it is now.",
        SearchAnswer.SearchFirst => "Search for the family first, and record it. Nothing was changed.",
        SearchAnswer.TooFewTries => "Too few attempts to reach the family are recorded to close it so. Nothing was changed.",
        _ => "That was not understood. Nothing was recorded.",
    };
}
