namespace Registry.Rules.Chance;

/// <summary>What was recorded at a birth, and told of the family since, and may go with being lost: as it was known on a day. Null: not
/// recorded.</summary>
/// <param name="Site">The birth site.</param>
/// <param name="SiteCounty">Its county.</param>
/// <param name="County">The family's.</param>
/// <param name="Language">Of whoever is called first.</param>
/// <param name="Insurance">As recorded.</param>
/// <param name="Phones">How many telephone numbers of whom may be called.</param>
public sealed record LossTraits(
    string Site, string? SiteCounty, string? County, string? Language, string? Insurance, int Phones)
{
    /// <summary>By whoever is called first.</summary>
    public bool? InterpreterNeeded { get; init; }

    /// <summary>Somebody else than the parents decides for the child.</summary>
    public bool HasGuardian { get; init; }

    /// <summary>Never asked for a chance: only to see whether chances come true alike.</summary>
    public string? RaceEthnicity { get; init; }
}

/// <summary>What a chance of loss is told from.</summary>
public enum LossFactor
{
    Step,
    Age,
    FirstTest,
    Result,
    Nicu,
    Tries,
    NoShow,
    Phone,
    County,
    OtherCounty,
    Site,
    Language,
    Insurance,
    Interpreter,
    Guardian,
}
