using Registry.Rules.Facts;
using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>What is known of an infant before its first session and explains part of the outcome.</summary>
public readonly record struct CaseMix(ScreeningMethod Method, AgeBand Age, bool Nicu, GestationBand Gestation)
{
    public static CaseMix Of(QualityCell cell) => new(cell.Method, cell.Age, cell.Nicu, cell.Gestation);
}

/// <summary>One coefficient: it applies to infants who are everything it names.</summary>
/// <param name="Method">Null: any.</param>
/// <param name="Age">Null: any.</param>
/// <param name="Nicu">Only infants in intensive care.</param>
/// <param name="Gestation">Null: any.</param>
/// <param name="Estimate">Log odds; a log odds ratio except where nothing is named.</param>
/// <param name="StandardError">Of the estimate, the penalty included.</param>
public sealed record CaseMixTerm(
    ScreeningMethod? Method, AgeBand? Age, bool Nicu, GestationBand? Gestation, double Estimate = 0, double StandardError = 0)
{
    public bool AppliesTo(CaseMix mix) => (Method is null || Method == mix.Method) && (Age is null || Age == mix.Age)
        && (!Nicu || mix.Nicu) && (Gestation is null || Gestation == mix.Gestation);
}

/// <summary>A case-mix model as it was fitted: kept by version, so that a figure can be computed again.</summary>
/// <param name="Measure">Whose probability it states.</param>
/// <param name="Version">Of the fit.</param>
/// <param name="From">First day of the sessions it was fitted to.</param>
/// <param name="Through">Last day of them.</param>
/// <param name="Trials">Infants it was fitted to.</param>
/// <param name="Events">Of them with the outcome.</param>
/// <param name="Terms">Its coefficients.</param>
public sealed record CaseMixModel(
    SessionMeasure Measure, int Version, DateOnly From, DateOnly Through, long Trials, long Events, IReadOnlyList<CaseMixTerm> Terms)
{
    private readonly Dictionary<CaseMix, double> _logits = [];

    /// <summary>The most frequent level of each, which the others' coefficients are compared with; null of a model kept before it
    /// was.</summary>
    public CaseMix? Reference { get; init; }

    /// <summary>Logit of the probability expected of an infant; a combination never seen has its main effects.</summary>
    public double Logit(CaseMix mix)
    {
        lock (_logits)
        {
            if (_logits.TryGetValue(mix, out var known)) return known;
            return _logits[mix] = Math.Clamp(Terms.Where(t => t.AppliesTo(mix)).Sum(t => t.Estimate), -12, 12);
        }
    }

    /// <summary>The probability expected of an infant.</summary>
    public double Risk(CaseMix mix) => LogisticRegression.Probability(Logit(mix));
}
