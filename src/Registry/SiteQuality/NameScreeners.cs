using Registry.Access;
using Registry.Infants.Counting;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>Names screeners for who looks: at their own site by the name it reported, elsewhere by a pseudonym that stays the same. A site
/// trains its people; whoever compares sites needs to know that one of them stands out, and not who it is.</summary>
public sealed class NameScreeners(CountScreens count, Viewer viewer)
{
    public string Of(SiteId site, string name) => name.Length == 0 || viewer.SiteId == site ? name : Pseudonym(site, name);

    /// <summary>As an address names a screener, for everybody.</summary>
    public static string Pseudonym(SiteId site, string name) => FieldKeys.OfProcess.KeyOfScreener(site.Value, name)[..5].ToUpperInvariant();

    public ScreenCounts Of(ScreenCounts counts) => counts with { Unit = Of(counts.SiteId, counts.Unit) };

    public QualityFinding Of(QualityFinding finding) =>
        finding.Under(part => part.Kind == CauseKind.Screener ? part with { Code = Of(finding.SiteId, part.Code) } : part);

    public ComparedUnit Of(ComparedUnit unit) =>
        unit.Kind == QualityUnitKind.Screener ? unit.Under(Of(unit.SiteId, unit.Name)) : unit;

    /// <summary>The name behind what a link says; what it says, when nobody of the period is named so.</summary>
    public async Task<string> BehindAsync(string shown, ScreensAsked asked, CancellationToken ct) => viewer.SiteId == asked.Site ? shown
        : (await count.ByAsync(ScreenGrouping.Screener, asked, ct)).FirstOrDefault(c => Of(c.SiteId, c.Unit) == shown)?.Unit ?? shown;
}
