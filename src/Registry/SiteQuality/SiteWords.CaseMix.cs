using System.Globalization;
using Registry.Rules.Quality;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>What the page of the case mix says.</summary>
public static partial class SiteWords
{
    public const string CaseMixLead =
        "What the region's infants of such method, age, intensive care and gestation let expect of a first session: sites, instruments, "
        + "probes and screeners are compared by it, and flags are raised by it.";

    public const string NoCaseMix =
        "A registry without a year behind it is compared with all it has, fitted anew every night; what is fitted for a quarter is kept "
        + "here.";

    public const string CaseMixExplained =
        "Logistic models: the log odds of an infant are the sum of every line that applies to it; the first line applies to all. Fitted "
        + "with small penalties so that few infants do not decide (prior standard deviation 2.5 of a line, 0.5 of a combination of method "
        + "and age; standard errors include them). Made once a quarter, and again when the policy changed or a tenth more infants of that "
        + "year became known. It describes this region; it says nothing of what causes a refer.";

    public static string FittedTo(CaseMixModel model) =>
        $"{Words.Count(model.Events)} of {Words.Count(model.Trials, "infant")}, first tested {Words.Date(model.From)} to "
            + $"{Words.Date(model.Through)}.";

    /// <summary>The coefficients of a model by what they name, each in the order a reader looks for it.</summary>
    public static IEnumerable<IGrouping<string, CaseMixTerm>> TermsInOrder(CaseMixModel model) => model.Terms
        .OrderBy(t => t is { Method: not null, Age: not null })
        .ThenBy(t => t.Gestation).ThenBy(t => t.Nicu).ThenBy(t => t.Method).ThenBy(t => t.Age ?? AgeBand.Unknown)
        .GroupBy(t => t switch
        {
            { Method: not null, Age: not null } => "Method and age together",
            { Method: not null } => "Method",
            { Age: not null } => "Age at the first test",
            { Nicu: true } => "Intensive care",
            { Gestation: not null } => "Gestation",
            _ => "To begin with",
        });

    /// <summary>The infants a coefficient compares its own with: "TEOAE"; null where it compares with none, or it was not kept.</summary>
    public static string? ComparedWith(CaseMixModel model, CaseMixTerm term) => (model.Reference, term) switch
    {
        (_, { Nicu: true }) => "infants not in intensive care",
        (null, _) or (_, { Method: not null, Age: not null }) => null,
        ({ } most, { Method: not null }) => Words.Of(most.Method),
        ({ } most, { Age: not null }) => Hours(most.Age),
        ({ } most, { Gestation: not null }) => Weeks(most.Gestation),
        _ => null,
    };

    /// <summary>Whom a coefficient concerns: "OAE, 6 to 11 hours".</summary>
    public static string Term(CaseMixTerm term)
    {
        List<string> said = [];
        if (term.Method is { } method) said.Add(Words.Of(method));
        if (term.Age is { } age) said.Add(Hours(age));
        if (term.Nicu) said.Add("Intensive care");
        if (term.Gestation is { } gestation) said.Add(Weeks(gestation));
        return said.Count == 0 ? "Every infant" : string.Join(", ", said);
    }

    public static string Coefficient(double x) => x.ToString("0.000", CultureInfo.InvariantCulture);

    /// <summary>"1.42 (1.10 to 1.83)"; "—" for the line that applies to all.</summary>
    public static string OddsRatio(CaseMixTerm term) => term is { Method: null, Age: null, Nicu: false, Gestation: null } ? "—"
        : $"{Times(Math.Exp(term.Estimate))} ({Times(Math.Exp(term.Estimate - (1.96 * term.StandardError)))} to "
            + $"{Times(Math.Exp(term.Estimate + (1.96 * term.StandardError)))})";

    /// <summary>How much ordinary units differ beyond chance, by kind.</summary>
    public static string OrdinaryDifferences(WatchPlan plan, SessionMeasure measure) =>
        "Standard deviation of the log odds between ordinary units: " + Words.List([.. QualityUnit.Kinds
            .Select(k => $"{Words.Of((Enum)k).ToLowerInvariant()}s {Times(plan.Tolerance.GetValueOrDefault((k, measure)))}")]) + ".";

    private static string Hours(AgeBand age) => age switch
    {
        AgeBand.Unknown => "Age not reported",
        AgeBand.Under6 => "under 6 hours",
        AgeBand.Older => "72 hours and older",
        AgeBand.Under72 => "48 to 71 hours",
        _ => $"{((int)age - 1) * 6} to {((int)age * 6) - 1} hours",
    };

    private static string Weeks(GestationBand weeks) => weeks switch
    {
        GestationBand.Unknown => "Gestation not reported",
        GestationBand.Under34 => "under 34 weeks",
        GestationBand.Under37 => "34 to 36 weeks",
        _ => "37 weeks and more",
    };
}
