using System.Globalization;
using Microsoft.Extensions.DependencyInjection;
using Registry.Demo;
using Registry.PolicyVersions;
using Registry.Rules.Quality;
using Registry.SiteQuality;

namespace Registry.Tests.SiteQuality;

/// <summary>
/// The demonstration as it is delivered, 20,000 births through the intake: the stories of sites that it says it tells are raised with what
/// is behind them, their day and what to check first, and hardly anything else is; and the nights around them, one by one, say what the one
/// night said that saw all of it at once. The test prints what stands.
/// </summary>
public sealed class DemoProblemsTests(TestDatabase database)
{
    private static CancellationToken Ct => TestContext.Current.CancellationToken;

    [Fact]
    public async Task Each_story_of_a_site_is_raised_with_its_cause_and_day_and_little_else_is()
    {
        await using var app = await RegistryApp.StartWithDemonstrationAsync(database);
        var policy = await app.Services.GetRequiredService<PolicyStore>().InForceAsync(app.Today, Ct);
        var watched = ComputeSiteRates.WatchedFrom(app.Today);
        await app.Services.GetRequiredService<ComputeSiteRates>().RunAsync(Ct);
        var (plan, cells) = await app.Services.GetRequiredService<KeepPlans>().ForAsync(watched, policy, Ct);
        await using var db = app.OpenDb();
        var sites = db.Sites.ToDictionary(s => s.Id, s => s.Code);
        var standing = db.QualityFindings.Where(f => f.ResolvedOn == null).OrderBy(f => f.FoundOn).AsEnumerable()
            .Select(f => (Site: sites[f.SiteId], Finding: f, Check: CheckFirst.For(f.Measure, f.Above, f.Named.Part.Kind)[0].Id)).ToList();
        foreach (var (site, f, check) in standing)
            TestContext.Current.TestOutputHelper!.WriteLine(string.Create(CultureInfo.InvariantCulture,
                $"{f.FoundOn:yyyy-MM-dd} {site}: {(f.Above ? "too many" : "too few")} {f.Measure} by {f.Named.Part} "
                    + $"raised as {f.Raised} since about {f.OnsetOn:yyyy-MM-dd} ({f.OnsetFirst:yyyy-MM-dd} to {f.OnsetLast:yyyy-MM-dd}), "
                    + $"{f.Numerator} of {f.Denominator}, expected {f.Expected:0.0}, sure {f.Sure:0.00}: {check}"));

        // Two of them are older than the year that is watched: as far as it can be seen, since its first days.
        Story(Places.EarlySite, SessionMeasure.Early, CauseKind.EarlyTests, Places.EarlySite, watched, "timing");
        Story(Places.NoisySite, SessionMeasure.Noise, CauseKind.Screener, Places.NoisyScreener, watched, "settled_infant");
        Story(Places.LeakingSite, SessionMeasure.NoSeal, CauseKind.Probe, Places.LeakingProbe, app.Today.AddDays(-Places.LeakingDays),
            "tip_and_port");

        // A year and nearly a quarter are watched, of which the policy allows twelve a year: fifteen are stated.
        Assert.InRange(standing.Count, 0, 15);

        void Story(string site, SessionMeasure measure, CauseKind cause, string name, DateOnly day, string check)
        {
            var found = Assert.Single(standing, s => s.Site == site && s.Finding.Measure == measure);
            standing.Remove(found);
            Assert.Equal((true, new CauseFactor(cause, name), check), (found.Finding.Above, found.Finding.Named.Part, found.Check));

            // Sites of the demonstration's watched year see two or three infants a day: the first is a few days after the first day.
            Assert.InRange(day, found.Finding.OnsetFirst.AddDays(-4), found.Finding.OnsetLast);
            Assert.InRange(found.Finding.FoundOn, day, day.AddDays(40));
            NightByNight(site, found.Finding);
        }

        // From three nights before it was raised until it was asked three times again what is behind it.
        void NightByNight(string site, QualityFinding once)
        {
            var with = new NightlyPlan(plan, watched, policy, sites.ToDictionary(s => s.Value, s => s.Key));
            var own = cells.Where(c => c.Site == site).ToList();
            var flags = new List<QualityFinding>();
            for (var night = once.FoundOn.AddDays(-3); night <= once.FoundOn.AddDays(21); night = night.AddDays(1))
            {
                flags.AddRange(ComputeSiteRates.Night(with, own.Where(c => c.Day <= night), flags, night).Raised);
                if (night >= once.FoundOn) Assert.Equal(once.FoundOn, Flag().RecordedOn);
            }

            Assert.Equal((once.FoundOn, once.Raised, once.Numerator, once.Denominator, once.Expected, once.OnsetOn),
                (Flag().FoundOn, Flag().Raised, Flag().Numerator, Flag().Denominator, Flag().Expected, Flag().OnsetOn));
            Assert.Equal((once.Named.Part, null), (Flag().Named.Part, Flag().ResolvedOn));

            QualityFinding Flag() => Assert.Single(flags, f => (f.Measure, f.Above) == (once.Measure, once.Above));
        }
    }
}
