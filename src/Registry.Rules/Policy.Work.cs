using Registry.Rules.Work;

namespace Registry.Rules;

// How the work list sorts infants, and in which order they are called.
public sealed partial record Policy
{
    [Choice("Work ahead, days",
        "Steps that do not follow a refer are work from so many days before they are due. What follows a refer is work at once.", "",
        SourceMark.CommonPractice)]
    public int WorkAheadDays { get; init; } = 14;

    [Choice("Try again after, days", "A family that was not reached is called again after so many days, unless a day was set.",
        "The days are ours.", SourceMark.Ours)]
    public int TryAgainDays { get; init; } = 3;

    [Choice("Call back after, days", "A family that was reached is called again after so many days, unless a day was set.",
        "The days are ours.", SourceMark.Ours)]
    public int CallBackDays { get; init; } = 14;

    [Choice("Found for, days", "An infant whose family was reached is not searched for again for so many days.",
        "The days are ours.", SourceMark.Ours)]
    public int FoundDays { get; init; } = 30;

    [Choice("Both ears, days forward",
        "In the work list a refer or a hearing loss in both ears counts as if the milestone ended so many days earlier.",
        "The days are ours; it orders calls only.", SourceMark.Ours)]
    public int BothEarsDays { get; init; } = 14;

    [Choice("Risk, days forward", "The same for a stay in NICU above the policy's days, and once more for any other risk indicator.",
        "The days are ours; it orders calls only.", SourceMark.Ours)]
    public int RiskDays { get; init; } = 7;

    [Choice("Try without answer, days back",
        "Each try in a row that reached nobody counts as if the milestone ended so many days later, five tries at most: those who may "
            + "answer are called first.",
        "The days are ours; it orders calls only.", SourceMark.Ours)]
    public int FruitlessTryDays { get; init; } = 2;

    [Choice("Chance of loss to follow-up, days forward",
        "A family that is likely to be lost to follow-up, by the registry's own history, counts as if the milestone ended so many days "
            + "earlier, times its chance; 0: the chance is neither used nor shown in the work list. It is used only while it comes true "
            + "(reports, chance of loss to follow-up), orders within a kind of work, and hides nobody.",
        "Off until the program has looked at how it comes true and decided to use it. The days are ours.", SourceMark.Ours)]
    public int ChanceOfLossDays { get; init; }

    [Choice("Hand-off acknowledged within, days",
        "Whoever an infant is handed to says so many days later at the latest that it arrived; else it is work again.", "",
        SourceMark.CommonPractice)]
    public int AcknowledgeDays { get; init; } = 7;

    [Choice("Link for an answer opens, days",
        "A clinic or program without an account answers by a link that opens for so many days, once.", "The days are ours.",
        SourceMark.Ours)]
    public int AnswerLinkDays { get; init; } = 14;

    [Choice("Link for an answer, tries", "So many wrong birth dates close the link.", "The number is ours.", SourceMark.Ours)]
    public int AnswerLinkTries { get; init; } = 5;

    [Choice("Search again after, days",
        "A family that was searched for in vain is searched for again after so many days. One for whom a search brought a phone or an "
            + "address is called at once.",
        "The days are ours.", SourceMark.Ours)]
    public int SearchAgainDays { get; init; } = 30;

    [Choice("Families searched for at Medicaid", "The law and an agreement let the program look for a family in Medicaid's records.", "",
        SourceMark.CommonPractice)]
    public bool SearchMedicaid { get; init; } = true;

    [Choice("Families searched for at the immunization registry",
        "The law and an agreement let the program look for a family in the immunization registry.", "",
        SourceMark.CommonPractice)]
    public bool SearchImmunization { get; init; } = true;

    [Choice("Families searched for at WIC", "The law and an agreement let the program look for a family in WIC's records.", "",
        SourceMark.CommonPractice)]
    public bool SearchWic { get; init; } = true;

    [Choice("Families searched for at vital records", "The law and an agreement let the program look for a family in vital records.", "",
        SourceMark.CommonPractice)]
    public bool SearchVitalRecords { get; init; } = true;

    [Choice("Families searched for at the blood-spot program",
        "The law and an agreement let the program look for a family in the blood-spot screening program.", "",
        SourceMark.CommonPractice)]
    public bool SearchBloodSpot { get; init; } = true;

    [Choice("Tries before a case is closed",
        "Work is closed as contacted and unresponsive, unable to contact, or unknown after so many attempts and one search at least.", "",
        SourceMark.CommonPractice)]
    public int TriesBeforeClosing { get; init; } = 3;

    /// <summary>Where this program looks for a family.</summary>
    public IEnumerable<SearchPlace> PlacesToSearch() => Enum.GetValues<SearchPlace>().Where(p => p switch
    {
        SearchPlace.Medicaid => SearchMedicaid,
        SearchPlace.ImmunizationRegistry => SearchImmunization,
        SearchPlace.Wic => SearchWic,
        SearchPlace.VitalRecords => SearchVitalRecords,
        SearchPlace.BloodSpotProgram => SearchBloodSpot,
        _ => true,
    });
}
