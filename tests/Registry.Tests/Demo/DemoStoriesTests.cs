using Registry.Demo;
using Registry.Tests.Reporting.Measures;

namespace Registry.Tests.Demo;

/// <summary>The stories of demo-data/README.md are in the default region's files.</summary>
public sealed class DemoStoriesTests
{
    private static readonly List<DemoRow> Rows = ReadRegion.AllRows;
    private static readonly List<DemoRow> Tests =
        [.. Rows.Where(r => r.Kind == "screening" && r["probe"] is not null && r["record_number"]?.EndsWith('X') != true)];
    private static readonly DateOnly Anchor = ReadRegion.Anchor;

    [Fact]
    public void Story_1_one_probe_loses_its_seal_more_and_more_from_a_given_week()
    {
        var (began, mended) = (Anchor.AddDays(-Places.LeakingDays), Anchor.AddDays(-Places.MendedDays));
        var probe = Tests.Where(t => t["probe"] == Places.LeakingProbe).ToList();
        Assert.Single(probe.Select(t => t.Site).Distinct());
        var before = probe.Where(t => Performed(t) < began).ToList();
        var early = probe.Where(t => Performed(t) >= began && Performed(t) < began.AddDays(42)).ToList();
        var late = probe.Where(t => Performed(t) >= began.AddDays(63) && Performed(t) < mended).ToList();
        var after = probe.Where(t => Performed(t) >= mended).ToList();
        var others = Tests.Where(t => t.Site == Places.LeakingSite && t["probe"] != Places.LeakingProbe && Performed(t) >= began).ToList();
        Assert.InRange(Share(before, NoSeal), 0, .04);
        Assert.InRange(Share(early, NoSeal), .06, .30);
        Assert.True(Share(late, NoSeal) > 1.5 * Share(early, NoSeal));
        Assert.True(Share(late, Refers) > 3 * Share(before, Refers), $"{Share(late, Refers)} {Share(before, Refers)}");
        Assert.InRange(Share(after, NoSeal), 0, .06);
        Assert.True(after.Count > 30, $"{after.Count} tests show little.");
        Assert.InRange(Share(others, NoSeal), 0, .04);
    }

    [Fact]
    public void Story_2_one_site_screens_too_early_and_refers_more()
    {
        var early = ReadRegion.OldEnough.Where(i => i.Birth.Site == Places.EarlySite && i.Valid.FirstOrDefault()?.Site == Places.EarlySite)
            .ToList();
        var others = ReadRegion.OldEnough.Where(i => i.Birth.Site != Places.EarlySite
            && i.Valid.FirstOrDefault()?["method"] is "teoae" or "dpoae").ToList();
        Assert.InRange(early.Select(i => i.AgeAtScreen!.Value).Order().ElementAt(early.Count / 2), 8, 12);
        Assert.True(early.Average(i => i.FirstReferred ? 1 : 0) > 1.8 * others.Average(i => i.FirstReferred ? 1 : 0));
    }

    [Fact]
    public void Story_3_a_clinic_stopped_reporting_ten_weeks_ago()
    {
        var sent = Rows.Where(r => r.Site == Places.SilentClinic).Select(r => r.SentOn).Distinct().Order().ToList();
        Assert.InRange(sent[^1], Anchor.AddDays(-Places.SilentDays - 28), Anchor.AddDays(-Places.SilentDays));
        Assert.True(sent.Count > 20);
        // It looks as if nobody of its counties were evaluated since; elsewhere they are.
        var recent = Rows.Where(r => r.Kind == "diagnosis" && r.Day("evaluated_on") > Anchor.AddDays(-Places.SilentDays)).ToList();
        Assert.True(recent.Count > 20);
        Assert.DoesNotContain(recent, r => r.Site == Places.SilentClinic);
    }

    [Fact]
    public void Story_4_families_moved_out_of_one_county_some_before_the_diagnosis()
    {
        var moved = ReadRegion.OldEnough.Where(i => i.Has("move", "move", "out_of_region")).ToList();
        var ofCounty = moved.Count(i => i.Birth["county"] == Places.LeftCounty);
        Assert.True(ofCounty * 4 > moved.Count, $"{ofCounty} of {moved.Count}");
        Assert.Contains(moved, i => i.NotPassed && i.Diagnosis is null);
        Assert.Contains(moved, i => i.Has("move", "move", "returned"));
    }

    [Fact]
    public void Story_5_one_site_sends_late_in_bursts()
    {
        var sent = Rows.Where(r => r.Site == Places.BurstSite).Select(r => r.SentOn.DayNumber).Distinct().Order().ToList();
        var pauses = sent.Zip(sent.Skip(1), (a, b) => b - a).ToList();
        Assert.All(pauses, p => Assert.InRange(p, 17, 36));
        Assert.True(pauses.Distinct().Count() > 2);
        Assert.True(MedianLag(Places.BurstSite) > 2 * MedianLag("wrenfield"));
    }

    [Fact]
    public void Story_6_there_is_something_to_reject_and_to_hold()
    {
        Assert.Contains(Rows, r => r["outcome"] == "failed");
        Assert.Contains(Rows, r => r.Kind == "screening" && r.At("performed_at") > r.File.ReceivedAt.UtcDateTime);
        Assert.Contains(Rows, r => r["record_number"]?.EndsWith('X') == true);
        Assert.Contains(Tests.GroupBy(t => (t.Site, t["record_number"], t["ear"], t["performed_at"])), g =>
            g.Select(t => t["outcome"]).Distinct().Count() > 1);
        Assert.Contains(Rows.GroupBy(r => (r.File.FileName, string.Join('|', r.Values.Select(v => v.Value)))), g => g.Count() > 1);
        var swapped = Rows.Where(r => r.Kind == "birth" && r["record_number"] == "TWIN-01A").ToList();
        Assert.Equal(["1", "2"], swapped.Select(r => r["birth_order"]));
        Assert.All(Rows.Where(r => r["record_number"]?.StartsWith("TWIN-02", StringComparison.Ordinal) == true), r =>
            Assert.Null(r["birth_order"]));
    }

    [Fact]
    public void Story_7_the_families_of_one_county_cannot_be_reached()
    {
        var infants = ReadRegion.OldEnough.Where(i => i.Later.Any(l => l.Kind == "contact")).ToList();
        Assert.True(Unreached(infants.Where(i => i.Birth["county"] == Places.UnreachableCounty)) > 2 * Unreached(
            infants.Where(i => i.Birth["county"] != Places.UnreachableCounty)));

        static double Unreached(IEnumerable<DemoInfant> infants) =>
            infants.SelectMany(i => i.Later).Where(l => l.Kind == "contact")
                .Average(l => l["contact_outcome"] == "unable_to_contact" ? 1 : 0);
    }

    [Fact]
    public void Story_8_the_tests_of_one_screener_mostly_end_in_noise()
    {
        var byScreener = Tests.GroupBy(t => t["screener"]!).ToDictionary(g => g.Key, g => g.ToList());
        // Counted by first tests of an ear in a session: the repeats after them mostly succeed.
        Assert.True(Share(byScreener[Places.NoisyScreener], Noise) > .35);
        Assert.All(byScreener.Where(s => s.Key != Places.NoisyScreener && s.Value.Count > 50), s =>
            Assert.InRange(Share(s.Value, Noise), 0, .06));
    }

    private static DateOnly Performed(DemoRow test) => DateOnly.FromDateTime(test.At("performed_at"));
    private static bool NoSeal(DemoRow t) => t["reason"] == "no_seal";
    private static bool Noise(DemoRow t) => t["reason"] == "noise";
    private static bool Refers(DemoRow t) => t["outcome"] == "refer";
    private static double Share(List<DemoRow> tests, Func<DemoRow, bool> which) => (double)tests.Count(which) / tests.Count;

    private static int MedianLag(string site)
    {
        var lags = Tests.Where(t => t.Site == site && t["stage"] == "birth_admission")
            .Select(t => t.SentOn.DayNumber - Performed(t).DayNumber).Order().ToList();
        return lags[lags.Count / 2];
    }
}
