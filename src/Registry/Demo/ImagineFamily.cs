using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Demo;

/// <summary>
/// One invented family: a birth (sometimes of twins) and all that is later reported about it. Rates are chosen to be realistic; each
/// constant carries its mark: F found in the named source, M from memory, P common practice, O our own choice for the demonstration.
/// </summary>
internal sealed partial class ImagineFamily(Dice dice, int number, DateOnly anchor)
{
    private const double TwinShare = 0.015;          // of deliveries; multiples about 3 % of births (M)
    private const double NicuAtNicuSite = 0.18;     // O; with the next, about 8 % of births stay over five days (O)
    private const double NicuElsewhere = 0.055;       // O
    private const double LossPerThousand = 1.5;      // permanent loss 1-3 per 1,000 (CDC, MMWR 2015; F)
    private const double LossPerThousandNicu = 9;    // higher after intensive care (P)
    private const double DeathShare = 0.002;         // O
    private const double DeathShareNicu = 0.02;      // O
    private const double MoveShare = 0.006;          // O
    private const double MoveShareInTheWave = 0.06;  // O: story 4
    private const double ComesBackShare = 0.05;      // O: of those who moved
    private const double RefusalShare = 0.003;       // O
    private const double MissedShare = 0.012;        // screened 97-99 % (CDC survey 2022; F)
    private const double AtHomeMissedShare = 0.3;    // O: home births nobody brought an instrument to
    private const double UnilateralShare = 0.4;      // of permanent loss (M)

    private static readonly double[] Shares = [.. Places.Birthing.Select(p => p.Share)];
    private readonly Reporting _reports = new(anchor);
    private bool _atRisk;

    /// <summary>How many children <see cref="Imagine"/> gave the family.</summary>
    public int Children { get; private set; }

    /// <summary>Everything ever reported about this family up to the anchor day, in no particular order.</summary>
    /// <param name="bornAt">When the first child is born.</param>
    /// <param name="atMost">1 where the region's number of births leaves no room for twins.</param>
    public IReadOnlyList<Report> Imagine(DateTime bornAt, int atMost)
    {
        var site = Places.Birthing[dice.Weighted(Shares)];
        Children = dice.Chance(TwinShare) && atMost > 1 ? 2 : 1;
        var mother = Mother.Imagine(dice, Report.Number(number), DateOnly.FromDateTime(bornAt));
        for (var order = 1; order <= Children; order++) Child(site, mother, bornAt.AddMinutes(12 * (order - 1)), order);
        return _reports.Reports;
    }

    private void Child(Place site, Mother mother, DateTime bornAt, int order)
    {
        var nicu = dice.Chance((site.HasNicu ? NicuAtNicuSite : NicuElsewhere) * (Children > 1 ? 3 : 1));
        var nicuDays = nicu ? Math.Max(1, (int)dice.LogNormal(8, .8)) : 0;
        var loss = dice.Chance((nicu ? LossPerThousandNicu : LossPerThousand) / 1000);
        var oneEar = dice.Chance(UnilateralShare);
        var right = dice.Chance(.5);
        DateTime? died = dice.Chance(nicu ? DeathShareNicu : DeathShare)
            ? Reporting.After(bornAt, dice.LogNormal(nicu ? 140 : 400, .9)) : null;
        var before = anchor.DayNumber - DateOnly.FromDateTime(bornAt).DayNumber;
        var wave = site.County == Places.LeftCounty && before is > 120 and < 300;
        var moved = dice.Chance(wave ? MoveShareInTheWave : MoveShare) ? bornAt.AddDays(dice.Between(6, 110)) : (DateTime?)null;
        var weeks = nicu ? dice.Between(29, 38) : dice.Between(37, 41);
        // A screen with brainstem response is not reliable before 34 weeks after the last menstruation (F: 32 to 34): who is born
        // earlier stays.
        if (nicu) nicuDays = Math.Max(nicuDays, 7 * (34 - weeks) + 1);
        var discharged = nicu ? bornAt.AddDays(nicuDays).AddHours(4) : Reporting.After(bornAt, Math.Clamp(dice.LogNormal(48, .3), 24, 110));
        var infant = new Infant(site, Record(site, order), $"L{number * 2 + order:00000000}", bornAt, mother,
            dice.Chance(.512) ? Sex.Male : Sex.Female, order, Children)
        {
            GivenName = dice.Chance(.6) ? Names.Infant(dice) : null,
            GestationWeeks = weeks,
            WeightGrams = Math.Clamp(3400 - (40 - weeks) * 170 + dice.Between(-450, 450), 600, 5200),
            DiedAt = died,
            MovedAt = moved,
            NicuDays = nicuDays,
            Nicu = nicu ? site.HasNicu ? site : Places.NicuFor(site.County) : null,
            DischargedAt = died < discharged ? died.Value : discharged,
            LossRight = loss && (!oneEar || right),
            LossLeft = loss && (!oneEar || !right),
            CardIsKnown = number % 5 != 0,
            LivesHere = number % 89 != 5, // about 1 % (O)
        };
        _reports.Birth(infant);
        Risks(infant);
        var screen = new Screening();
        if (infant.BornAtHome && dice.Chance(AtHomeMissedShare)) screen.Missed = true;
        else ScreenBeforeDischarge(infant, screen);
        AfterDischarge(infant, screen);
        if (infant.DiedAt is { } deathAt)
            _reports.Add(Places.Office, RowKind.Death, deathAt.AddDays(5), infant, ("died_on", Report.Day(deathAt)));
        if (infant.MovedAt is { } movedAt && !(infant.DiedAt < movedAt)) Move(infant, movedAt);
    }

    private void Move(Infant infant, DateTime at)
    {
        var kind = dice.Chance(.9) ? "out_of_region" : dice.Chance(.5) ? "adopted" : "non_resident";
        _reports.Add(Places.Office, RowKind.Move, at.AddDays(9), infant, ("move", kind), ("moved_on", Report.Day(at)));
        var back = at.AddDays(dice.Between(30, 90));
        if (kind == "out_of_region" && dice.Chance(ComesBackShare))
            _reports.Add(Places.Office, RowKind.Move, back.AddDays(4), infant, ("move", "returned"), ("moved_on", Report.Day(back)));
    }

    private void Risks(Infant infant)
    {
        var place = infant.ScreeningSite;
        _atRisk = false;
        if (infant.NicuDays > 5) Note("nicu_over_five_days");
        if (infant.NicuDays > 5 && dice.Chance(.25)) Note("aminoglycosides");
        if (infant.NicuDays > 0 && dice.Chance(.04)) Note("asphyxia");
        if (dice.Chance(infant.PermanentLoss ? .2 : .008)) Note("family_history");
        if (dice.Chance(.003)) Note("craniofacial");
        if (dice.Chance(.002)) Note("congenital_cmv");
        if (infant.DiedAt is null && dice.Chance(.0015))
        {
            var admitted = infant.DischargedAt.AddDays(dice.Between(3, 14));
            _reports.Add(infant.Site, RowKind.Readmission, admitted.AddDays(4), infant,
                ("admitted_on", Report.Day(admitted)), ("discharged_on", Report.Day(admitted.AddDays(3))), ("raises_risk", "yes"));
        }

        void Note(string indicator)
        {
            _atRisk = true;
            _reports.Add(place, RowKind.Risk, infant.DischargedAt, infant, ("indicator", indicator),
                ("noted_on", Report.Day(infant.BornOn)));
        }
    }

    private string Record(Place site, int order)
    {
        var initials = string.Concat(site.Code.Split('-').Select(w => char.ToUpperInvariant(w[0])));
        return $"{initials}{number:0000000}{(order > 1 ? "B" : "A")}";
    }
}
