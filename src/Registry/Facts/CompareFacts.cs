namespace Registry.Facts;

public enum FactVerdict
{
    /// <summary>Nothing recorded speaks of it.</summary>
    New,

    /// <summary>Recorded already: the row changes nothing.</summary>
    Same,

    /// <summary>The row corrects or completes what is recorded.</summary>
    Replaces,

    /// <summary>The row says something else about the same test, evaluation or event: for a person to decide.</summary>
    Contradicts,
}

/// <summary>
/// Sets a reported fact beside one recorded for the same infant; each kind says how. Never a guess about which of two statements is right:
/// only a birth restated by the site that reported it, a refusal that gains its revocation, a stay or a delay that gains its end and a test
/// that gains its detail replace by themselves.
/// </summary>
public static class CompareFacts
{
    /// <summary>Do the two speak of the same thing, and if so, what follows?</summary>
    /// <param name="row">What is reported now.</param>
    /// <param name="recorded">What is recorded.</param>
    /// <param name="sameSite">Both come from one site.</param>
    /// <param name="result">The fact to record instead, when it <see cref="FactVerdict.Replaces"/>, or when a person decides for the
    /// row.</param>
    public static FactVerdict Compare(ReportedFact row, ReportedFact recorded, bool sameSite, out ReportedFact result) =>
        row.ComparedWith(recorded, sameSite, out result);

    /// <summary>May a correction mean what is recorded? What names a fact, without what it says; the site has been compared
    /// before.</summary>
    public static bool AboutTheSame(ReportedFact row, ReportedFact recorded) => row.IsAboutTheSameAs(recorded);

    /// <summary>Does a retraction take back what is recorded? An event that is all name must be named whole.</summary>
    public static bool Names(ReportedFact retraction, ReportedFact recorded) => retraction.TakesBack(recorded);
}
