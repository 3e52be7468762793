namespace Registry.Bench.Quality;

/// <summary>How a site screens.</summary>
internal enum Protocol { Emissions, Brainstem }

/// <summary>An imagined site.</summary>
/// <param name="Code">Its code.</param>
/// <param name="Share">Of the region's births.</param>
/// <param name="Protocol">Method of the first session outside intensive care.</param>
/// <param name="Distortion">Distortion product instead of transient emissions.</param>
/// <param name="MedianHours">Of the age at the first attempt.</param>
/// <param name="NicuShare">Of its infants in intensive care.</param>
/// <param name="Probes">How many; instruments are half as many, screeners two more.</param>
internal sealed record ImaginedSite(
    string Code, double Share, Protocol Protocol, bool Distortion, double MedianHours, double NicuShare, int Probes)
{
    public int Instruments => (Probes + 1) / 2;
    public int Screeners => Probes + 2;
}

/// <summary>The sites of a region with a demonstration's mix: five large, eight medium, six small, five practices.</summary>
internal static class ImaginedRegion
{
    public static readonly IReadOnlyList<ImaginedSite> Sites = Make();

    /// <summary>The site with about 1,500 births of 27,000.</summary>
    public const string Medium = "site-07";
    public const string Large = "site-02";
    public const string Small = "site-14";
    public const string BrainstemOnly = "site-03";

    private static List<ImaginedSite> Make()
    {
        double[] shares =
        [
            .135, .125, .115, .095, .085, .060, .055, .050, .045, .040, .035, .030, .028, .018, .016, .012, .012, .010, .008, .010, .006,
            .004, .004, .002,
        ];
        return [.. shares.Select((share, i) =>
        {
            var hours = i < 5 ? 29 : i < 13 ? 27 : i < 19 ? 31 : i < 21 ? 34 : 120;
            return new ImaginedSite($"site-{i + 1:00}", share, i is 2 or 9 ? Protocol.Brainstem : Protocol.Emissions, i % 2 == 1, hours,
                i < 5 ? .18 : .055, i < 5 ? 4 : i < 13 ? 3 : 1);
        })];
    }
}
