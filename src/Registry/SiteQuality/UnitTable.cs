using Registry.Infants.Counting;
using Registry.Rules.Facts;
using Registry.Rules.Statistics;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>A table of sites or units: what is measured of each, and what is wrong, in its cell. Model of <c>_Units</c>.</summary>
/// <param name="AsOf">The day, for links.</param>
/// <param name="Grouping">What a line is.</param>
/// <param name="Period">The days every number opens.</param>
/// <param name="Days">Days of test, or of birth.</param>
/// <param name="Lines">In their order.</param>
/// <param name="Foot">All of them together; null: none is shown.</param>
/// <param name="FootName">What these are.</param>
/// <param name="OfRegion">Lines of many sites: each names its site and says little, and headers sort the page.</param>
public sealed record UnitTable(
    AsOf AsOf, ScreenGrouping Grouping, Period Period, CountedDay Days, IReadOnlyList<UnitLine> Lines, ScreenCounts? Foot,
    string FootName, bool OfRegion)
{
    /// <summary>Sites that are silent, by their code: what is wrong with them stands beside their name.</summary>
    public IReadOnlyDictionary<string, SiteRhythm> Silent { get; init; } = new Dictionary<string, SiteRhythm>();

    /// <summary>Those of them whose silence is a mark of their own: the codes of the sites.</summary>
    public IReadOnlySet<string> SilenceStands { get; init; } = new HashSet<string>();

    /// <summary>Those whose late results are a mark of their own: the codes of the sites.</summary>
    public IReadOnlySet<string> LateStands { get; init; } = new HashSet<string>();

    /// <summary>Those whose results kept back or bursts are marks of their own.</summary>
    public KeptBackMarks KeptBack { get; init; } = KeptBackMarks.None;

    /// <summary>Of all infants born; null: what became of them is not shown.</summary>
    public BirthFigures? Born { get; init; }

    /// <summary>Tests of the foot's sites that came later than each agreed to; null of none.</summary>
    public Proportion? Late { get; init; }

    /// <summary>Of sites, by day of test.</summary>
    public bool ShowsLate => Lines.Any(l => l.Late is not null);

    /// <summary>Of units that the last night compared.</summary>
    public bool ShowsCompared => Lines.Any(l => l.Compared is not null);

    /// <summary>The refers behind a comparison, by its own days.</summary>
    public string ComparedTests(UnitLine line) => AsOf.Link($"/sites/{line.Site.Code}/tests", ("from", line.Compared!.FirstDay),
        ("to", line.Compared.AsOf), ("show", "first_refer"), ("by", Grouping == ScreenGrouping.Site ? null : Grouping),
        ("unit", line.Counts.Unit));

    /// <summary>The infants behind a number of <see cref="BirthFigures"/>, by day of birth.</summary>
    public string Infants(UnitLine line, (string, object?)[] query) =>
        AsOf.Link("/infants", [("site", line.Site.Code), ("from", Period.From), ("to", Period.To), .. query]);

    /// <summary>Births or screens that have stopped, by their site's code.</summary>
    public ILookup<string, StoppedFacts> Stopped { get; init; } = Array.Empty<StoppedFacts>().ToLookup(s => s.Code);

    /// <summary>Ways of sending whose silence is a mark, by their site's code.</summary>
    public ILookup<string, FeedRhythm> SilentFeeds { get; init; } = Array.Empty<FeedRhythm>().ToLookup(f => f.Site);

    /// <summary>The tests behind a number.</summary>
    public string Tests(UnitLine line, string show) => AsOf.Link($"/sites/{line.Site.Code}/tests", ("from", Period.From), ("to", Period.To),
        ("days", Days == CountedDay.Birth ? Days : null), ("show", show), ("by", Grouping == ScreenGrouping.Site ? null : Grouping),
        ("unit", line.Counts.Unit));

    public string Site(UnitLine line) => AsOf.Link($"/sites/{line.Site.Code}", ("from", Period.From), ("to", Period.To),
        ("days", Days == CountedDay.Birth ? Days : null));

    /// <summary>The page of an instrument, a probe or a screener; null of what has none, and of a name that no address can hold.</summary>
    public string? Unit(UnitLine line)
    {
        var name = Grouping == ScreenGrouping.Screener ? line.Key : line.Counts.Unit;
        if (!ShowUnit.Kinds.Contains(Grouping) || line.Counts.Unit.Length == 0 || name is null) return null;
        var parts = name.Split('/');
        return parts.Any(p => p is "" or "." or "..") ? null
            : AsOf.Link($"/sites/{line.Site.Code}/units/{Codes.Of(Grouping)}/{string.Join('/', parts.Select(Uri.EscapeDataString))}",
                ("from", Period.From), ("to", Period.To));
    }

    public string Name(UnitLine line) => Grouping == ScreenGrouping.Site ? line.Site.Name : SiteWords.Unit(Grouping, line.Counts.Unit);
}
