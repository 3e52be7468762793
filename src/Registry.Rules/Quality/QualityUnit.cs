namespace Registry.Rules.Quality;

/// <summary>What is compared with its like.</summary>
public enum QualityUnitKind { Site, Instrument, Probe, Screener }

/// <summary>A site, or an instrument, a probe or a screener of one.</summary>
/// <param name="Kind">Which of them.</param>
/// <param name="Site">The site's code.</param>
/// <param name="Code">Its own code within the site; the site's for a site.</param>
public readonly record struct QualityUnit(QualityUnitKind Kind, string Site, string Code)
{
    public static readonly IReadOnlyList<QualityUnitKind> Kinds = Enum.GetValues<QualityUnitKind>();

    /// <summary>The unit of a kind to which a cell's sessions belong; null when it was not reported.</summary>
    public static QualityUnit? Of(QualityUnitKind kind, QualityCell cell) => kind switch
    {
        QualityUnitKind.Site => new(kind, cell.Site, cell.Site),
        QualityUnitKind.Instrument => Named(kind, cell.Site, cell.Instrument),
        QualityUnitKind.Probe => Named(kind, cell.Site, cell.Probe),
        _ => Named(kind, cell.Site, cell.Screener),
    };

    private static QualityUnit? Named(QualityUnitKind kind, string site, string? code) => code is null ? null : new(kind, site, code);
}
