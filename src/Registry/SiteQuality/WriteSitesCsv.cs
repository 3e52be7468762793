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
            line.IsFlagged ? "yes" : "no",
        ];
    }

    private static object?[] Rate(Proportion rate) => [rate.ToPercent(), Percent(rate.Wilson()?.Lower), Percent(rate.Wilson()?.Upper)];

    private static string? Percent(double? share) => (share * 100)?.ToString("0.0", CultureInfo.InvariantCulture);
}
