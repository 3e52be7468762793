using System.Globalization;
using Registry.Infants.Counting;
using Registry.Platform.Csv;
using Registry.Rules.Facts;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>The table of sites, or of their units, as CSV. Counts of whole sites; it names no infant.</summary>
public static class WriteSitesCsv
{
    private static readonly string[] Header =
    [
        "site", "county", "unit", "from", "to", "days_of", "as_of", "policy", "infants", "first_tested", "first_referred",
        "first_refer_percent", "first_refer_low", "first_refer_high", "infants_concluded", "infants_referred", "referred_both_ears",
        "refer_percent", "refer_low", "refer_high", "tests", "invalid", "no_seal", "noise", "other_reason", "invalid_percent",
        "invalid_low", "invalid_high", "attempts_per_ear", "both_ears", "with_age", "early", "within_24_hours", "received_late",
        "days_to_receipt_median", "born_due", "born_missed", "born_referred", "born_lost", "flagged",
        "compared_from", "compared_to", "compared_policy", "case_mix", "compared_units", "compared_infants", "trials", "observed",
        "expected", "observed_by_expected", "standardized_percent", "mid_p", "adjusted_p", "z_multiplicative", "z_additive",
        "shrunken_percent", "shrunken_low", "shrunken_high", "far_above_probability", "place_first", "place_last",
    ];

    public static string Of(ShownSites sites) =>
        WriteCsv.Text(sites.Lines.Select(line => Row(sites, line)).Prepend(Header));

    private static object?[] Row(ShownSites sites, UnitLine line)
    {
        var c = line.Counts;
        return
        [
            line.Site.Name, line.Site.County, c.Unit, sites.Asked.Period.From, sites.Asked.Period.To, Codes.Of(sites.Asked.Days),
            sites.AsOf, sites.PolicyVersion, c.Infants, c.FirstRefer.Denominator, c.FirstRefer.Numerator, .. Rate(c.FirstRefer),
            c.Refer.Denominator, c.Refer.Numerator, c[ScreenFigure.ReferredBoth], .. Rate(c.Refer), c.Tests, c.Invalid,
            c[ScreenFigure.NoSeal], c[ScreenFigure.Noise], c[ScreenFigure.OtherReason], .. Rate(c.InvalidTests),
            c.AttemptsPerEar?.ToString("0.00", CultureInfo.InvariantCulture), c.BothEars.Numerator, c.EarlyFirst.Denominator,
            c.EarlyFirst.Numerator, c.FirstDay.Numerator, line.Late?.Numerator, line.MedianDays,
            line.Births?.Missed.Denominator, line.Births?.Missed.Numerator, line.Births?.Lost.Denominator, line.Births?.Lost.Numerator,
            line.IsFlagged ? "yes" : "no", .. Compared(line.Compared),
        ];
    }

    /// <summary>First tests that refer, as the last night compared them; empty of who was not.</summary>
    private static object?[] Compared(ComparedUnit? u) => u is null ? new object?[21] :
    [
        u.FirstDay, u.AsOf, u.PolicyVersion, u.ModelVersion, u.Units, u.AllTrials, u.Trials, u.Observed, Figure(u.Expected),
        Figure(u.Ratio), Percent(u.Standardized), Figure(u.TooMany), Figure(u.AdjustedP), Figure(u.Multiplicative), Figure(u.Additive),
        Percent(u.Shrunken), Percent(u.ShrunkenLeast), Percent(u.ShrunkenMost), Figure(u.FarAbove), u.RankFirst, u.RankLast,
    ];

    private static string? Figure(double? x) => x?.ToString("0.######", CultureInfo.InvariantCulture);

    private static object?[] Rate(Proportion rate) => [rate.ToPercent(), Percent(rate.Wilson()?.Lower), Percent(rate.Wilson()?.Upper)];

    private static string? Percent(double? share) => (share * 100)?.ToString("0.0", CultureInfo.InvariantCulture);
}
