using Registry.Records;

namespace Registry.Demo;

/// <summary>An invented place that reports. <paramref name="Share"/> of the region's births; <paramref name="SendsEvery"/> days.</summary>
public sealed record Place(string Code, string Name, string County, SiteKind Kind, double Share, int SendsEvery)
{
    public bool HasNicu { get; init; }

    /// <summary>First-screen method: otoacoustic emissions alone, emissions then AABR, or AABR alone.</summary>
    public Protocol Protocol { get; init; } = Protocol.OaeThenAabr;

    /// <summary>Median hours of age at the first test.</summary>
    public double MedianHours { get; init; } = 27;

    /// <summary>Which emissions its instruments measure.</summary>
    public string Emissions { get; init; } = "teoae";

    /// <summary>Sends in the morning what was known the day before, once the anchor day is near, so that fresh work is known.</summary>
    public bool SendsFresh { get; init; } = true;
    public string[] Instruments { get; init; } = [];
    public string[] Probes { get; init; } = [];
    public string[] Screeners { get; init; } = [];
}

public enum Protocol { Oae, OaeThenAabr, Aabr }

/// <summary>The region of Lindmere: every place, county and name is invented.</summary>
public static class Places
{
    public const string Program = "lindmere-program";

    /// <summary>Where a probe starts to leak (story 1), and which.</summary>
    public const string LeakingSite = "farrow-point";
    public const string LeakingProbe = "PR-0207";

    /// <summary>Where infants are tested too early (story 2).</summary>
    public const string EarlySite = "stillwater";

    /// <summary>The clinic that stopped reporting (story 3).</summary>
    public const string SilentClinic = "aldery-hearing";

    /// <summary>From this many days before the anchor day on it has sent nothing.</summary>
    public const int SilentDays = 70;

    /// <summary>The week before the anchor day, counted in days, in which the probe began to leak.</summary>
    public const int LeakingDays = 119;

    /// <summary>So many days before the anchor day its tip was changed, and the leak ended.</summary>
    public const int MendedDays = 21;

    /// <summary>The county many families moved away from in the second half-year before the anchor day (story 4).</summary>
    public const string LeftCounty = "Harrow";

    /// <summary>The site that sends late, in bursts (story 5).</summary>
    public const string BurstSite = "brackenfell";

    /// <summary>The county whose families are hard to reach (story 7).</summary>
    public const string UnreachableCounty = "Saltmarsh";

    /// <summary>The site and screener whose tests mostly end in noise (story 8).</summary>
    public const string NoisySite = "hollin-bay";
    public const string NoisyScreener = "SC-0503";

    /// <summary>Share of not-passed infants never evaluated, by county: 4 to 60 % between jurisdictions (CDC survey, F).</summary>
    public static readonly IReadOnlyDictionary<string, double> LostShare = new Dictionary<string, double>
    {
        ["Lind"] = .10,
        ["Mere"] = .16,
        ["Aldery"] = .20,
        ["Harrow"] = .25,
        ["Thornwick"] = .32,
        ["Saltmarsh"] = .36,
    };

    public static readonly IReadOnlyList<Place> Birthing = Number(
    [
        Large("farrow-point", "Farrow Point Medical Center", "Lind", .135),
        Large("tarnbrook", "Tarnbrook General Hospital", "Mere", .125),
        Large("quarry-hill", "Quarry Hill Women's Hospital", "Lind", .115) with { Protocol = Protocol.Aabr },
        Large("stonebeck", "Stonebeck Regional Hospital", "Harrow", .095),
        Large("saltmarsh-general", "Saltmarsh General Hospital", "Saltmarsh", .085),
        Medium("brackenfell", "Brackenfell Community Hospital", "Thornwick", .060) with { SendsEvery = 25, SendsFresh = false },
        Medium("hollin-bay", "Hollin Bay Hospital", "Mere", .055),
        Medium("stillwater", "Stillwater Family Hospital", "Aldery", .050) with { MedianHours = 10, Protocol = Protocol.Oae },
        Medium("wrenfield", "Wrenfield Hospital", "Lind", .045),
        Medium("orchard-lane", "Orchard Lane Hospital", "Harrow", .040) with { Protocol = Protocol.Aabr },
        Medium("kestrel-moor", "Kestrel Moor Hospital", "Thornwick", .035),
        Medium("lowgate", "Lowgate Hospital", "Mere", .030),
        Medium("aldery-cross", "Aldery Cross Hospital", "Aldery", .028),
        Small("pennyford", "Pennyford Cottage Hospital", "Harrow", .018),
        Small("dunmarsh", "Dunmarsh Hospital", "Saltmarsh", .016),
        Small("greyling", "Greyling Island Hospital", "Saltmarsh", .012),
        Small("larkspur", "Larkspur Valley Hospital", "Thornwick", .012),
        Small("millrace", "Millrace Hospital", "Aldery", .010),
        Small("east-tarn", "East Tarn Hospital", "Mere", .008),
        Centre("willow-birth", "Willow Room Birth Center", "Lind", .010),
        Centre("rowanbeck-birth", "Rowanbeck Birth Center", "Harrow", .006),
        Midwife("ferncote", "Ferncote Midwives", "Aldery", .004),
        Midwife("heron-midwives", "Heron Lane Midwives", "Mere", .004),
        Midwife("thornwick-midwives", "Thornwick Midwifery Practice", "Thornwick", .002),
    ]);

    public static readonly IReadOnlyList<Place> Clinics =
    [
        new("lind-hearing", "Lind Hearing Clinic", "Lind", SiteKind.AudiologyClinic, 0, 14),
        new("harrow-audiology", "Harrow Vale Audiology", "Harrow", SiteKind.AudiologyClinic, 0, 14),
        new(SilentClinic, "Aldery Hearing Center", "Aldery", SiteKind.AudiologyClinic, 0, 14),
        new("mere-audiology", "Mere Coast Audiology", "Mere", SiteKind.AudiologyClinic, 0, 14),
    ];

    public static readonly Place EarlyIntervention = new("lindmere-intervention", "Lindmere Early Intervention", "Lind",
        SiteKind.InterventionProgram, 0, 28);

    /// <summary>The program's own office, which reports its contacts with families, deaths and moves.</summary>
    public static readonly Place Office = new(Program, "Lindmere Hearing Program", "Lind", SiteKind.InterventionProgram, 0, 14);

    public static readonly IReadOnlyList<Place> All = [.. Birthing, .. Clinics, EarlyIntervention, Office];

    public static Place Of(string code) => All.First(p => p.Code == code);

    /// <summary>Where a county's families are sent for evaluation.</summary>
    public static Place ClinicOf(string county) => county switch
    {
        "Lind" => Of("lind-hearing"),
        "Mere" => Of("mere-audiology"),
        "Harrow" or "Saltmarsh" => Of("harrow-audiology"),
        _ => Of(SilentClinic),
    };

    /// <summary>Where an infant in need of intensive care is moved.</summary>
    public static Place NicuFor(string county) => Birthing.First(p => p.HasNicu && (p.County == county || p.Code == "tarnbrook"));

    private static Place Large(string code, string name, string county, double share) =>
        new(code, name, county, SiteKind.Hospital, share, 14) { HasNicu = true, MedianHours = 29 };
    private static Place Medium(string code, string name, string county, double share) =>
        new(code, name, county, SiteKind.Hospital, share, 14);
    private static Place Small(string code, string name, string county, double share) =>
        new(code, name, county, SiteKind.Hospital, share, 28) { Protocol = Protocol.Oae, MedianHours = 31, SendsFresh = false };
    private static Place Centre(string code, string name, string county, double share) =>
        new(code, name, county, SiteKind.BirthCenter, share, 28) { Protocol = Protocol.Oae, MedianHours = 34, SendsFresh = false };
    private static Place Midwife(string code, string name, string county, double share) =>
        new(code, name, county, SiteKind.Midwife, share, 28) { Protocol = Protocol.Oae, MedianHours = 120, SendsFresh = false };

    /// <summary>Instruments, probes and screeners in proportion to size: <c>INS-01-2</c>, <c>PR-0103</c>, <c>SC-0104</c>.</summary>
    private static List<Place> Number(Place[] places) =>
        [.. places.Select((p, i) =>
        {
            var size = p.Share >= .08 ? 4 : p.Share >= .02 ? 3 : 1;
            var place = p.Code == "farrow-point" ? 2 : p.Code == "hollin-bay" ? 5 : i + 10;
            return p with
            {
                Emissions = i % 2 == 0 ? "teoae" : "dpoae",
                Instruments = [.. Enumerable.Range(1, (size + 1) / 2).Select(n => $"INS-{place:00}-{n}")],
                Probes = [.. Enumerable.Range(5, size).Select(n => $"PR-{place:00}{n:00}")],
                Screeners = [.. Enumerable.Range(1, size + 2).Select(n => $"SC-{place:00}{n:00}")],
            };
        })];
}
