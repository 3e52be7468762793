using Registry.Records;

namespace Registry.Demo;

/// <summary>A file one place sent at one time.</summary>
public sealed record DemoSubmission(string SiteCode, DateTimeOffset ReceivedAt, string FileName, SubmissionFormat Format, byte[] Content,
    int Rows);

/// <summary>
/// The invented region as the files its places sent over two years before an anchor day. The same anchor, number of births and seed
/// always give the same bytes. Made day by day: what is held in memory are the reports not yet sent, not the region.
/// </summary>
/// <param name="Anchor">The day the region lives up to: there is work due around it. Nothing is known that happens later.</param>
/// <param name="Births">Infants born, the arranged ones among them.</param>
/// <param name="Seed">Another seed, another region.</param>
public sealed record DemoRegion(DateOnly Anchor, int Births = DemoRegion.DefaultBirths, ulong Seed = DemoRegion.DefaultSeed)
{
    public const int DefaultBirths = 20_000;
    public const ulong DefaultSeed = 20261125;
    public const int Days = 730;

    /// <summary>Within so many days of the anchor day, places that can send every morning.</summary>
    private const int FreshDays = 10;

    /// <summary>A region small enough for a test.</summary>
    public static DemoRegion Small(DateOnly anchor) => new(anchor, 300);

    public DateOnly FirstDay => Anchor.AddDays(-Days);

    /// <summary>Every file, in the order of receipt.</summary>
    public IEnumerable<DemoSubmission> Submissions()
    {
        var outbox = new Dictionary<(DateOnly Day, int Place), List<Report>>();
        var places = Places.All.Index().ToDictionary(p => p.Item.Code, p => p.Index);
        var births = Math.Max(0, Births - ArrangedFamilies.Infants);
        Post(new ArrangedFamilies(Anchor, Seed).Arrange());
        var next = 0;
        for (var day = FirstDay; day <= Anchor; day = day.AddDays(1))
        {
            while (next < births)
            {
                var dice = Dice.For(Seed, next);
                var bornAt = BirthCalendar.At(FirstDay, (next + dice.Unit()) / births);
                if (DateOnly.FromDateTime(bornAt) > day) break;
                var family = new ImagineFamily(dice, next, Anchor);
                Post(family.Imagine(bornAt, births - next));
                next += family.Children;
            }

            foreach (var (index, place) in Places.All.Index())
                if (outbox.Remove((day, index), out var reports)) yield return File(place, index, day, reports);
        }

        void Post(IEnumerable<Report> reports)
        {
            foreach (var report in reports)
            {
                var index = places[report.Place.Code];
                if (SentOn(report.Place, index, DateOnly.FromDateTime(report.KnownAt)) is not { } sent || sent > Anchor) continue;
                if (!outbox.TryGetValue((sent, index), out var waiting)) outbox[(sent, index)] = waiting = [];
                waiting.Add(report);
            }
        }
    }

    /// <summary>The day a place sends what it knows since <paramref name="known"/>: always later; null for never.</summary>
    private DateOnly? SentOn(Place place, int index, DateOnly known)
    {
        var sent = Bundle(place, index, known);
        if (place.Code == Places.SilentClinic) return sent < Anchor.AddDays(-Places.SilentDays) ? sent : null;
        var fresh = Anchor.AddDays(1 - FreshDays);
        if (!place.SendsFresh || sent < fresh) return sent;
        return known.AddDays(1) < fresh ? fresh : known.AddDays(1);
    }

    private DateOnly Bundle(Place place, int index, DateOnly known)
    {
        // Larger regions send more often, so that no file grows beyond reason.
        var every = Births <= DefaultBirths ? place.SendsEvery : (int)Math.Max(1, (long)place.SendsEvery * DefaultBirths / Births);
        var day = known.DayNumber - FirstDay.DayNumber + index;
        if (place.Code != Places.BurstSite) return FirstDay.AddDays((day / every + 1) * every - index);
        // Story 5: the last days wait for the next burst, and bursts come when somebody thinks of it.
        day += 8;
        return FirstDay.AddDays((day / every + 1) * every - index + (day / every % 4) switch { 0 => 3, 1 => -2, 2 => 5, _ => 0 });
    }

    private DemoSubmission File(Place place, int index, DateOnly day, List<Report> reports)
    {
        IReadOnlyList<Report> rows = [.. reports.OrderBy(r => r.Kind == RowKind.Birth ? 0 : 1).ThenBy(r => r.KnownAt)
            .ThenBy(r => r.Values[0].Value, StringComparer.Ordinal)];
        if (day > Anchor.AddDays(-MakeMistakes.Days)) rows = MakeMistakes.In(Dice.For(Seed ^ 0x5A5A, day.DayNumber * 64 + index), rows);
        var json = index % 7 == 3;
        return new(place.Code, new DateTimeOffset(day.ToDateTime(new TimeOnly(5, index)), TimeSpan.Zero),
            $"{place.Code}-{Report.Day(day)}.{(json ? "json" : "csv")}",
            json ? SubmissionFormat.Json : SubmissionFormat.Csv, json ? WriteFile.Json(rows) : WriteFile.Csv(rows), rows.Count);
    }
}
