using Registry.Facts;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Access;

/// <summary>A column with a site that sees the infant as long as the row stands and what is asked of it besides holds.</summary>
/// <param name="Table">Its table, <c>f</c> in what is asked.</param>
/// <param name="Site">Its name.</param>
public sealed record SeeingColumn(string Table, string Site)
{
    /// <summary>What is asked besides; null: nothing.</summary>
    private string? If { get; init; }

    /// <summary>It asks for the kind of the site, which may change.</summary>
    public bool AsksKind { get; private init; }

    /// <summary>What a row says may close what an earlier one of the infant opened.</summary>
    public bool LooksBack { get; private init; }

    /// <summary>Whether a row shows the infant to the site.</summary>
    public string Opens => If is null ? "f.superseded_at is null" : $"f.superseded_at is null and {If}";

    /// <summary>What the trigger's function is called by.</summary>
    public string Function => If is null ? Site : $"{Site}_of_{Table}";

    public static SeeingColumn Of(SeeingSite named) => new(named.Table, named.Column)
    {
        If = named.Asks switch
        {
            Opening.None => null,
            Opening.NoProgram => IsNoProgram(named.Column),
            Opening.Expected => $"{IsNoProgram(named.Column)} and {IsExpected}",
            Opening.OwnWord when named.IsTyped => $"(f.entered_as is null or f.entered_as not in ({OfRegion})) and {IsSentBySite}",
            Opening.OwnWord => IsSentBySite,
            _ => throw new ArgumentOutOfRangeException(nameof(named), named.Asks, "Nothing says what is asked."),
        },
        AsksKind = named.Asks is Opening.NoProgram or Opening.Expected,
        LooksBack = named.Asks == Opening.Expected,
    };

    /// <summary>A hand-off shows the infant to a program once the family consented.</summary>
    public static SeeingColumn OfHandOffs { get; } = new("hand_offs", "shown_to_site_id")
    {
        If = $"(f.consent_on is not null or {IsNoProgram("shown_to_site_id")})",
        AsksKind = true,
    };

    /// <summary>An early-intervention program sees no record before the family's consent to the exchange (34 CFR 303.401), and consent
    /// goes with a hand-off: a booking there, or care said to have passed there, opens nothing.</summary>
    private static string IsNoProgram(string site) =>
        $"(select k.kind from sites k where k.id = f.{site}) <> '{Codes.Of(SiteKind.InterventionProgram)}'";

    /// <summary>The roles of the region's own people. What they say of a family, and of calling it, is kept under the site that owns the
    /// next step and is not that site's word. What they type of a birth or a test is: they have it from the site.</summary>
    private static string OfRegion => $"'{Codes.Of(Role.Coordinator)}', '{Codes.Of(Role.CaseWorker)}'";

    private static string IsSentBySite =>
        $"not exists (select from submissions b where b.id = f.submission_id and b.sent_as in ({OfRegion}))";

    private static string IsExpected => EmbeddedSql.Read(typeof(SeeingColumn), nameof(IsExpected));
}
