using Registry.Records;
using Registry.Rules.Quality;
using Registry.SiteQuality;
using Registry.SiteQuality.Flags;

namespace Registry.Tests.SiteQuality.Flags;

/// <summary>One flag for a standing problem, until somebody closes it; and another if the fault goes on.</summary>
public sealed class RaiseFlagsTests(TestDatabase database)
{
    private static readonly SiteId Site = SiteId.New();
    private static readonly DateOnly Today = new(2026, 11, 25);

    [Fact]
    public void A_problem_that_stands_is_the_same_flag_also_when_another_part_is_named_now()
    {
        var flag = FlagBed.Flag(Site);
        var named = FlagBed.Flag(Site, "I1", cause: CauseKind.Instrument, onset: new(2026, 11, 6), found: new(2026, 11, 21));
        flag.Namings = [flag.Named with { Next = new(CauseKind.Site, "harbour") }];
        Assert.Empty(RaiseFlags.Of([flag], [FlagBed.Flag(Site)], Today.AddDays(-1)).Raised);
        Assert.Single(flag.Namings); // it says nothing new
        var (raised, gone) = RaiseFlags.Of([flag], [named], Today);
        Assert.Empty(raised);
        Assert.Equal(0, gone);
        Assert.Equal((CauseKind.Probe, "P9", CauseKind.Instrument, "I1"), (flag.Cause, flag.Name, flag.FoundCause, flag.FoundName));
        Assert.Equal([("P9", new DateOnly(2026, 11, 20)), ("I1", Today)], flag.Namings.Select(n => (n.Part.Code, n.On)));
        Assert.Equal(new(CauseKind.Probe, "P9"), flag.KnownOn(Today.AddDays(-1)).Named.Part);
        // The next night it may be named by either.
        Assert.Empty(RaiseFlags.Of([flag], [FlagBed.Flag(Site)], Today).Raised);
    }

    [Fact]
    public void Too_few_is_another_flag_than_too_many_and_the_same_part_may_be_raised_again_beside_one_that_is_named_otherwise_now()
    {
        var (high, few) = (FlagBed.Flag(Site, measure: SessionMeasure.Referred),
            FlagBed.Flag(Site, measure: SessionMeasure.Referred, above: false));
        Assert.Equal([few], RaiseFlags.Of([high], [FlagBed.Flag(Site, measure: SessionMeasure.Referred), few], Today).Raised);
        Assert.Equal([few], RaiseFlags.Of([FlagBed.Flag(Site, measure: SessionMeasure.Referred, closed: Today)], [few], Today).Raised);

        var whole = FlagBed.Flag(Site, "harbour", cause: CauseKind.Site);
        var flag = FlagBed.Flag(Site);
        Assert.Empty(RaiseFlags.Of([flag], [whole], Today).Raised);
        var probe = FlagBed.Flag(Site);
        Assert.Equal([probe], RaiseFlags.Of([flag], [FlagBed.Flag(Site, "harbour", cause: CauseKind.Site), probe], Today).Raised);
    }

    [Fact]
    public void A_flag_that_another_explains_says_so_and_is_no_longer_found()
    {
        var (probe, site) = (FlagBed.Flag(Site), FlagBed.Flag(Site, "harbour", cause: CauseKind.Site, onset: new(2026, 8, 1)));
        var shadow = FlagBed.Flag(Site);
        shadow.Namings = [shadow.Named with { ExplainedBy = new(CauseKind.Site, "harbour") }];
        var (raised, gone) = RaiseFlags.Of([probe], [shadow, site], Today);
        Assert.Equal([site], raised);
        Assert.Equal((1, Today), (gone, probe.ResolvedOn!.Value));
        Assert.Equal(site.Raised, probe.Named.ExplainedBy!.Value);
        Assert.Empty(RaiseFlags.Of([], [shadow], Today).Raised);
    }

    [Fact]
    public void Another_measure_another_site_or_another_onset_is_another_flag()
    {
        var flag = FlagBed.Flag(Site);
        QualityFinding[] others =
        [
            FlagBed.Flag(Site, measure: SessionMeasure.Referred), FlagBed.Flag(SiteId.New()),
            FlagBed.Flag(Site, "P2", onset: new(2026, 8, 1)),
        ];
        var (raised, gone) = RaiseFlags.Of([flag], [FlagBed.Flag(Site), .. others], Today);
        Assert.Equal(others, raised);
        Assert.Equal(0, gone);
    }

    [Fact]
    public void What_is_no_longer_found_stays_open_and_says_so_and_may_be_found_again()
    {
        var flag = FlagBed.Flag(Site);
        Assert.Equal(1, RaiseFlags.Of([flag], [], Today).Gone);
        Assert.Equal((Today, null), (flag.ResolvedOn, flag.ClosedOn));
        RaiseFlags.Of([flag], [FlagBed.Flag(Site)], Today.AddDays(1));
        Assert.Null(flag.ResolvedOn);
    }

    [Fact]
    public void A_closed_flag_comes_back_only_by_what_was_raised_after_it_was_closed()
    {
        var closed = FlagBed.Flag(Site, closed: new(2026, 11, 22));
        Assert.Empty(RaiseFlags.Of([closed], [FlagBed.Flag(Site, found: new(2026, 11, 22))], Today).Raised);
        Assert.Single(RaiseFlags.Of([closed], [FlagBed.Flag(Site, found: new(2026, 11, 24), onset: new(2026, 11, 23))], Today).Raised);
    }

    [Fact]
    public async Task A_fault_that_goes_on_after_its_flag_was_closed_is_raised_again_by_later_evidence()
    {
        await using var bed = await ComputeSiteRatesTests.LeakingAsync(database);
        // As if somebody had closed it two days after the probe began to leak, and nothing had been done to the probe.
        await bed.ListAsync("update quality_findings set found_on = date '2026-10-22', closed_on = date '2026-10-22', state = 'closed' "
            + "returning 1");
        Assert.EndsWith("1 new, 0 no longer", await ComputeSiteRatesTests.RunAsync(bed), StringComparison.Ordinal);
        Assert.EndsWith("0 new, 0 no longer", await ComputeSiteRatesTests.RunAsync(bed), StringComparison.Ordinal);
        Assert.Equal(["P9 closed f", "P9 new t"], await bed.ListAsync(
            "select concat_ws(' ', name, state, found_on > (select min(closed_on) from quality_findings)) from quality_findings "
            + "order by found_on"));
        Assert.Equal(["True"], await bed.ListAsync("select onset_first > (select min(closed_on) from quality_findings) "
            + "from quality_findings where closed_on is null"));
        // Closed today, nothing more can be known today.
        await bed.ListAsync("update quality_findings set closed_on = date '2026-11-25', state = 'closed' "
            + "where closed_on is null returning 1");
        Assert.Equal("0 standing problems, 0 new, 0 no longer", await ComputeSiteRatesTests.RunAsync(bed));
    }
}
