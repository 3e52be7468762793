using System.Text;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Demo;

/// <summary>A file one place sent at one time.</summary>
public sealed record DemoSubmission(string SiteCode, DateTimeOffset ReceivedAt, string FileName, SubmissionFormat Format, byte[] Content, int Rows);

/// <summary>
/// The invented region as the files its places sent over two years before an anchor day. The same anchor, number of births and seed
/// always give the same bytes.
/// </summary>
/// <param name="Anchor">The day the region lives up to: there is work due around it.</param>
/// <param name="Births">Deliveries; about 1.5 % more infants, for twins.</param>
/// <param name="Seed">Another seed, another region.</param>
public sealed record DemoRegion(DateOnly Anchor, int Births = 20_000, ulong Seed = 20261125)
{
    public const int Days = 730;

    /// <summary>A region small enough for a test.</summary>
    public static DemoRegion Small(DateOnly anchor) => new(anchor, 300);

    /// <summary>Every file, in the order of receipt.</summary>
    public IEnumerable<DemoSubmission> Submissions()
    {
        var bySite = new Dictionary<string, List<Report>>();
        for (var family = 0; family < Births; family++)
        {
            foreach (var report in new ImagineFamily(family, Seed, Anchor).Imagine(Anchor.AddDays(-Days), Days))
            {
                if (!bySite.TryGetValue(report.SiteCode, out var reports)) bySite[report.SiteCode] = reports = [];
                reports.Add(report);
            }
        }

        return Places.All.Where(p => bySite.ContainsKey(p.Code)).SelectMany((p, i) => Files(p, i, bySite[p.Code]))
            .OrderBy(s => s.ReceivedAt).ThenBy(s => s.SiteCode, StringComparer.Ordinal).ThenBy(s => s.FileName, StringComparer.Ordinal);
    }

    /// <summary>Bundles a place's reports by its rhythm. In the last ten days a hospital sends daily, so that fresh work is known.</summary>
    private IEnumerable<DemoSubmission> Files(Place place, int index, List<Report> reports)
    {
        var start = Anchor.AddDays(-Days);
        var lastBundle = place.SendsEvery <= 14 ? Anchor.AddDays(-10) : Anchor;
        return reports.GroupBy(r => SentOn(DateOnly.FromDateTime(r.HappenedAt))).Where(g => g.Key <= Anchor).OrderBy(g => g.Key).Select(g =>
        {
            var rows = g.OrderBy(r => r.Kind == RowKind.Birth ? 0 : 1).ThenBy(r => r.HappenedAt).ThenBy(r => r.Values[0].Value, StringComparer.Ordinal).ToList();
            rows = Spoil(place, g.Key, rows);
            var json = index % 7 == 3;
            var at = new DateTimeOffset(g.Key.ToDateTime(new TimeOnly(5, index % 60)), TimeSpan.Zero);
            return new DemoSubmission(place.Code, at, $"{place.Code}-{Report.Day(g.Key)}.{(json ? "json" : "csv")}",
                json ? SubmissionFormat.Json : SubmissionFormat.Csv, json ? Json(rows) : Csv(rows), rows.Count);
        });

        DateOnly SentOn(DateOnly happened)
        {
            if (happened >= lastBundle) return place.SendsEvery <= 14 ? happened.AddDays(1) : Anchor.AddDays(1);
            var bundle = (happened.DayNumber - start.DayNumber + index) / place.SendsEvery;
            var sent = start.AddDays((bundle + 1) * place.SendsEvery - index + 1);
            return sent > lastBundle && place.SendsEvery <= 14 ? lastBundle.AddDays(1) : sent;
        }
    }

    /// <summary>Mistakes of every day (story 6), a few in the last months: work for the held and rejected pages.</summary>
    private List<Report> Spoil(Place place, DateOnly sent, List<Report> rows)
    {
        var dice = Dice.For(Seed ^ 0x5A5A, sent.DayNumber * 64 + place.Code.Length * 7 + place.Code[0]);
        if (sent < Anchor.AddDays(-90) || !dice.Chance(.35)) return rows;
        var spoiled = rows.ToList();
        if (rows.FirstOrDefault(r => r.Kind == RowKind.Screening) is not { } test) return rows;
        switch (dice.Between(0, 4))
        {
            case 0: // a duplicate
                spoiled.Add(test);
                break;
            case 1: // an outcome that is no outcome
                spoiled.Add(With(test, ("outcome", "failed")));
                break;
            case 2: // a test before the birth
                spoiled.Add(With(test, ("performed_at", Report.Moment(test.HappenedAt.AddYears(-1)))));
                break;
            case 3 when test.Values.Any(v => v is ("outcome", "pass")): // the same test with another outcome
                spoiled.Add(With(test, ("outcome", "refer")));
                break;
            default: // twins of one unknown mother without a birth order
                for (var i = 0; i < 2; i++)
                {
                    spoiled.Add(new Report(place.Code, RowKind.Birth, test.HappenedAt,
                    [
                        ("record_number", $"TW{sent.DayNumber}{place.Code[0]}{i}"), ("birth_date", Report.Day(DateOnly.FromDateTime(test.HappenedAt))), ("sex", "female"), ("plurality", "2"),
                        ("mother_given_name", "Odile"), ("mother_family_name", "Marchwick"), ("mother_birth_date", "1994-05-17"),
                    ]));
                }

                break;
        }

        return spoiled;
    }

    private static Report With(Report report, (string Column, string Value) change) =>
        report with { Values = [.. report.Values.Select(v => v.Column == change.Column ? change : v)] };

    private static byte[] Csv(List<Report> rows)
    {
        var columns = rows.SelectMany(r => r.Values).Select(v => v.Column).Distinct().ToList();
        var text = new StringBuilder("kind,").AppendJoin(',', columns).Append("\r\n");
        foreach (var row in rows)
        {
            text.Append(Codes.Of(row.Kind));
            foreach (var column in columns) text.Append(',').Append(row.Values.FirstOrDefault(v => v.Column == column).Value);
            text.Append("\r\n");
        }

        return Encoding.UTF8.GetBytes(text.ToString());
    }

    private static byte[] Json(List<Report> rows) => System.Text.Json.JsonSerializer.SerializeToUtf8Bytes(new
    {
        rows = rows.Select(r => r.Values.Prepend(("kind", Codes.Of(r.Kind))).ToDictionary(v => v.Item1, v => v.Item2)),
    });
}
