using Registry.Demo;

namespace Registry.Tests.Demo;

/// <summary>The stories that demo-data/README.md promises are in the files of the default region.</summary>
public sealed class DemoStoriesTests(ITestOutputHelper output)
{
    private static readonly DateOnly Anchor = new(2026, 11, 25);
    private static readonly Lazy<List<FileRow>> Rows = new(() => RegionFiles.Read(new DemoRegion(Anchor)));
    private static readonly Lazy<List<FileInfant>> Infants = new(() => RegionFiles.Infants(Rows.Value));

    private static IEnumerable<FileRow> Tests(string site) => Rows.Value.Where(r => r.File.SiteCode == site && r["outcome"] is "pass" or "refer" or "no_valid_result");

    [Fact]
    public void One_probe_begins_to_leak()
    {
        var from = Anchor.AddDays(-119).ToDateTime(TimeOnly.MinValue);
        var probe = Tests("farrow-point").Where(r => r["probe"] == "PR-0207").ToList();
        var before = Rate(probe.Where(r => r.PerformedAt < from), r => r["reason"] == "no_seal");
        var first = Rate(probe.Where(r => r.PerformedAt >= from && r.PerformedAt < from.AddDays(35)), r => r["reason"] == "no_seal");
        var last = Rate(probe.Where(r => r.PerformedAt >= from.AddDays(70)), r => r["reason"] == "no_seal");
        var others = Rate(Tests("farrow-point").Where(r => r["probe"] != "PR-0207" && r.PerformedAt >= from), r => r["reason"] == "no_seal");
        output.WriteLine($"no seal: {before:0.0} before, {first:0.0} first weeks, {last:0.0} last weeks, others {others:0.0}");
        Assert.True(before < 4 && others < 4 && first > 8 && last > first + 8);
    }

    [Fact]
    public void One_site_tests_too_early()
    {
        var screened = Infants.Value.Where(i => i.Valid.Any() && !i.LongNicuStay).ToList();
        var here = screened.Where(i => i.Site == "stillwater").ToList();
        var hours = here.Select(i => i.FirstHours).Order().ElementAt(here.Count / 2);
        var refer = Rate(here, i => i.FirstReferred);
        var elsewhere = Rate(screened.Where(i => i.Site != "stillwater"), i => i.FirstReferred);
        output.WriteLine($"median {hours:0.0} hours, refer {refer:0.0} % against {elsewhere:0.0} %");
        Assert.InRange(hours, 8, 12);
        Assert.True(refer > 2 * elsewhere);
    }

    [Fact]
    public void One_clinic_fell_silent_ten_weeks_ago_and_the_others_did_not()
    {
        var last = Rows.Value.GroupBy(r => r.File.SiteCode).ToDictionary(g => g.Key, g => Anchor.DayNumber - DateOnly.FromDateTime(g.Max(r => r.File.ReceivedAt).UtcDateTime).DayNumber);
        output.WriteLine(string.Join(", ", last.Select(l => $"{l.Key} {l.Value}")));
        Assert.InRange(last["aldery-hearing"], 68, 90);
        Assert.True(last["lind-hearing"] < 15 && last["harrow-audiology"] < 15);
    }

    [Fact]
    public void Families_moved_away_and_some_came_back()
    {
        var moves = Rows.Value.Where(r => r.Kind == "move").ToList();
        Assert.InRange(moves.Count(r => r["move"] == "out_of_region"), 60, 600);
        Assert.Contains(moves, r => r["move"] == "returned");
    }

    [Fact]
    public void One_site_sends_late_and_in_bursts()
    {
        var days = Rows.Value.Where(r => r.File.SiteCode == "brackenfell").Select(r => DateOnly.FromDateTime(r.File.ReceivedAt.UtcDateTime).DayNumber).Distinct().Order().ToList();
        var gaps = days.Zip(days.Skip(1), (a, b) => b - a).ToList();
        output.WriteLine(string.Join(' ', gaps));
        Assert.All(gaps, g => Assert.InRange(g, 14, 40));
        Assert.InRange(gaps.Average(), 20, 30);
    }

    [Fact]
    public void One_county_cannot_be_reached()
    {
        var county = Infants.Value.ToLookup(i => i.County == "Saltmarsh", i => i.Rows.Where(r => r.Kind == "contact"));
        var here = Rate(county[true].SelectMany(r => r), r => r["contact_outcome"] == "unable_to_contact");
        var elsewhere = Rate(county[false].SelectMany(r => r), r => r["contact_outcome"] == "unable_to_contact");
        output.WriteLine($"unable to contact: {here:0.0} % against {elsewhere:0.0} %");
        Assert.True(here > 2 * elsewhere);
    }

    [Fact]
    public void One_screener_mostly_ends_in_noise()
    {
        var tests = Tests("hollin-bay").ToList();
        var noisy = Rate(tests.Where(r => r["screener"] == "SC-0503"), r => r["reason"] == "noise");
        var others = Rate(tests.Where(r => r["screener"] != "SC-0503"), r => r["reason"] == "noise");
        output.WriteLine($"noise: {noisy:0.0} % against {others:0.0} %");
        Assert.True(noisy > 40 && others < 6);
    }

    private static double Rate<T>(IEnumerable<T> of, Func<T, bool> who)
    {
        var all = of.ToList();
        Assert.True(all.Count >= 30, $"only {all.Count}");
        return 100.0 * all.Count(who) / all.Count;
    }
}
