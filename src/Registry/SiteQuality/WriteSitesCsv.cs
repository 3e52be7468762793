using System.Globalization;
using Registry.Platform.Csv;

namespace Registry.SiteQuality;

/// <summary>The table of sites as CSV. Counts of whole sites; it names no infant.</summary>
public static class WriteSitesCsv
{
    private static readonly string[] Header =
    [
        "site", "county", "from", "to", "as_of", "policy", "infants_concluded", "infants_referred", "refer_percent", "refer_low",
        "refer_high", "attempts", "invalid", "invalid_percent", "invalid_low", "invalid_high", "median_age_hours", "flagged", "tests",
        "delay_median_hours", "delay_90th_percentile_hours", "tests_late", "tests_in_bursts",
    ];

    public static string Of(ShownSites sites) =>
        WriteCsv.Text(sites.Lines.Select(line => Row(sites, line)).Prepend(Header));

    private static object?[] Row(ShownSites sites, SiteLine line)
    {
        var (refer, invalid, delays) = (line.Counts.Refer, line.Counts.InvalidTests, sites.Delays[line.Site.Id]);
        return
        [
            line.Site.Name, line.Site.County, sites.Period.From, sites.Period.To, sites.Statuses.AsOf, sites.Statuses.PolicyVersion,
            refer.Denominator, refer.Numerator, refer.ToPercent(), Percent(refer.Wilson()?.Lower), Percent(refer.Wilson()?.Upper),
            invalid.Denominator, invalid.Numerator, invalid.ToPercent(), Percent(invalid.Wilson()?.Lower),
            Percent(invalid.Wilson()?.Upper), OneDecimal(line.Counts.MedianAgeHours), line.Refer.High || line.Invalid.High ? "yes" : "no",
            delays.Tests, OneDecimal(delays.MedianHours), OneDecimal(delays.NinthDecileHours), delays.Late.Numerator,
            delays.InBursts.Numerator,
        ];
    }

    private static string? Percent(double? share) => OneDecimal(share * 100);
    private static string? OneDecimal(double? value) => value?.ToString("0.0", CultureInfo.InvariantCulture);
}
