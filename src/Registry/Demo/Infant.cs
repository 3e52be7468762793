using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Demo;

/// <summary>The mother as a birth report describes her.</summary>
internal sealed record Mother(
    string Given, string Family, DateOnly BornOn, string Language, string Insurance, string Origin, string Education, string? Email,
    string Phone, bool Consent)
{
    private static readonly string[] Languages = ["en", "en", "en", "en", "en", "en", "es", "es", "vi", "ar"];
    private static readonly string[] Insurances = ["private", "private", "public", "public", "none"];
    private static readonly string[] Origins = ["white", "white", "white", "black", "hispanic", "hispanic", "asian", "american indian",
        "multiple", "not stated"];
    private static readonly string[] Educations = ["less than high school", "high school", "some college", "college degree", "not stated"];

    /// <param name="dice">The family's.</param>
    /// <param name="number">Makes the mail address of its own.</param>
    /// <param name="bornOn">The child's birth date.</param>
    public static Mother Imagine(Dice dice, string number, DateOnly bornOn) =>
        new(Names.Mother(dice), Names.Family(dice), bornOn.AddDays(-dice.Between(18 * 365, 42 * 365)),
            dice.Of(Languages), dice.Of(Insurances), dice.Of(Origins), dice.Of(Educations),
            dice.Chance(.55) ? $"family-{number}@mail.example" : null, $"555-01{dice.Between(0, 99):00}", dice.Chance(.8));
}

/// <summary>One child and what will become of it.</summary>
internal sealed record Infant(Place Site, string Record, string Card, DateTime BornAt, Mother Mother, Sex Sex, int Order, int Plurality)
{
    public DateOnly BornOn => DateOnly.FromDateTime(BornAt);
    public string? GivenName { get; init; }
    public int GestationWeeks { get; init; } = 39;
    public int WeightGrams { get; init; } = 3300;
    public DateTime? DiedAt { get; init; }
    public DateTime? MovedAt { get; init; }

    /// <summary>Nights in intensive care; 0: none.</summary>
    public int NicuDays { get; init; }

    /// <summary>Where the intensive care is; another site than the birth site after a transfer.</summary>
    public Place? Nicu { get; init; }
    public DateTime DischargedAt { get; init; }
    public bool LossRight { get; init; }
    public bool LossLeft { get; init; }
    public bool PermanentLoss => LossRight || LossLeft;

    /// <summary>Whether other places know the blood-spot card's number; otherwise they report by birth date and mother.</summary>
    public bool CardIsKnown { get; init; } = true;

    /// <summary>In the state of the region, or in the one beside it.</summary>
    public bool LivesHere { get; init; } = true;

    /// <summary>From then on nothing more happens here.</summary>
    public DateTime GoneAt => DiedAt is { } died && !(MovedAt < died) ? died : MovedAt ?? DateTime.MaxValue;
    public Place ScreeningSite => Nicu ?? Site;
    public bool BornAtHome => Site.Kind == SiteKind.Midwife;
}
