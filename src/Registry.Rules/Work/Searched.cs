namespace Registry.Rules.Work;

/// <summary>Where a family that was lost can be looked for. Which of them a program asks, as far as the law and its agreements let it, is
/// its choice (<see cref="Policy.PlacesToSearch"/>).</summary>
public enum SearchPlace
{
    Registry, BirthSite, PrimaryCare, Audiology, Medicaid, ImmunizationRegistry, Wic, VitalRecords, BloodSpotProgram, EarlyIntervention,
    Mail, HomeVisit, OtherState, Other,
}

/// <summary>What a search brought.</summary>
public enum SearchResult
{
    Nothing, NewPhone, NewAddress,

    /// <summary>The family lives elsewhere now.</summary>
    Moved,

    /// <summary>Another record is of the same child.</summary>
    SameInfant, OtherFinding,
}

/// <summary>The last search for a family.</summary>
/// <param name="On">Its day.</param>
/// <param name="BroughtContact">It brought a way to reach the family.</param>
public readonly record struct Searched(DateOnly On, bool BroughtContact)
{
    public static bool IsContact(SearchResult result) => result is SearchResult.NewPhone or SearchResult.NewAddress;
}

/// <summary>What people decided and did about an infant, beside the facts: what the sorting of the work asks for.</summary>
public readonly record struct WorkDecisions(PutOff? PutOff = null, HandedOff? HandedOff = null, Searched? Searched = null,
    Closed? Closed = null);
