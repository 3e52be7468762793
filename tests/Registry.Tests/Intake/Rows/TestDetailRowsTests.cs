using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.HeldRows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Screening;

namespace Registry.Tests.Intake.Rows;

/// <summary>What the instrument measured goes with its test: through corrections, undo, the record, the export, and beside the site's
/// criterion.</summary>
public sealed class TestDetailRowsTests(TestDatabase database)
{
    private const string Header = "action,kind,record_number,birth_date,sex,ear,outcome,method,performed_at,instrument,stimulus,duration_seconds,artefacts_rejected,ear_canal_volume_ml,ambient_noise_db,bands\n";
    private const string Birth = ",birth,A1,2026-11-01,female,,,,,,,,,,,\n";

    private static string Screen(string detail, string outcome = "pass", string action = "", string ear = "right", string number = "A1") =>
        $"{action},screening,{number},,,{ear},{outcome},dpoae,2026-11-02T09:15,I1,{detail}\n";

    private const string Full = "65/55 dB SPL,31.5,4,0.35,48,2000:8.1:-6.2:14.3;3000:5:-9";
    private const string None = ",,,,,";

    private static Task<List<string>> DetailsAsync(IntakeBed bed) => bed.ListAsync(
        """
        select concat_ws('|', s.outcome, d.stimulus, d.duration_seconds, d.artefacts_rejected, d.ear_canal_volume_ml, d.ambient_noise_db, d.bands)
          from screenings s join test_details d on d.screening_id = s.id where s.superseded_at is null order by s.ear desc
        """);

    private static async Task<List<string>> SendAsync(IntakeBed bed, string rows) =>
        await bed.OutcomesAsync(await bed.SendAsync(Header + rows));

    [Fact]
    public async Task It_is_stored_once_completed_contradicted_corrected_and_retracted_with_its_test()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        Assert.Equal(["accepted", "accepted", "accepted"], await SendAsync(bed, Birth + Screen(Full) + Screen(None, ear: "left")));
        Assert.Equal(["pass|65/55 dB SPL|31.5|4|0.35|48|2000:8.1:-6.2:14.3;3000:5:-9"], await DetailsAsync(bed));
        Assert.Equal(1, await bed.CountAsync("screening_details"));

        // The same again, in another order of bands, and a row that leaves it out, change nothing; what was left out may follow.
        Assert.Equal(["unchanged", "unchanged", "accepted", "unchanged"], await SendAsync(bed,
            Screen("65/55 dB SPL,31.50,4,0.35,48,3000:5.0:-9;2000:8.1:-6.2:14.3") + Screen(None) + Screen(",,,,50,", ear: "left") + Screen(
                None, ear: "left")));
        Assert.Equal(["held contradicts_record"], await SendAsync(bed, Screen("80 dB peSPL,,,,,")));

        Assert.Equal(["accepted", "unchanged", "unchanged"], await SendAsync(
            bed, Screen("click,,,,,2000:::3", "refer", "correct") + Screen(Full) + Screen("click,,,,,2000:::3", "refer", "correct")));
        Assert.Equal(["refer|click|2000:::3", "pass|50"], await DetailsAsync(bed));
        Assert.Equal(["accepted"], await SendAsync(bed, ",screening,A1,,,right,,,2026-11-02T09:15,,,,,,,\n".Insert(0, "retract")));
        // What waited because it contradicted the test follows once the test is taken back: the order of rows does not matter.
        Assert.Equal(["pass|80 dB peSPL", "pass|50"], await DetailsAsync(bed));
        Assert.Equal(4, await bed.CountAsync("screening_details"));
        foreach (var sql in (string[])["update screening_bands set snr_db = 99", "delete from screening_details"])
            Assert.Equal("23000", (await Assert.ThrowsAsync<Npgsql.PostgresException>(() => bed.App.AsOwnerAsync(sql))).SqlState);
    }

    [Fact]
    public async Task What_is_wrong_is_named_with_its_field()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        Assert.Equal(
            [
                "accepted",
                "rejected duration_seconds: is not between 0.1 and 3600; artefacts_rejected: is not a whole number; ear_canal_volume_ml: "
                    + "is not between 0 and 5; ambient_noise_db: is not a number with at most two decimals; bands: band 2: the frequency "
                    + "is not between 250 and 16000 Hz",
                "rejected reason: is required for not_performed; stimulus: does not belong to a test that was not performed",
            ],
            await SendAsync(bed, Birth + Screen(",0,4.5,35,loud,2000:1;2:1") + Screen("click,,,,,", "not_performed")));
    }

    [Fact]
    public async Task A_decision_taken_back_restates_the_test_with_its_detail()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = new Decider((await bed.AddPersonAsync(Role.Coordinator)).Id);
        var resolve = bed.App.Services.GetRequiredService<DecideRow>();
        await SendAsync(bed, Birth + Screen(Full));
        var id = await bed.SendAsync(Header + Screen("click,,,,,2000:::3", "refer"));
        var infant = new InfantId(Guid.Parse((await bed.ListAsync("select id from infants"))[0]));
        for (var again = 0; again < 2; again++)
        {
            Assert.Null((await resolve.MatchAsync(id, 1, infant, by, IntakeBed.Ct)).Refusal);
            Assert.Equal(["refer|click|2000:::3"], await DetailsAsync(bed));
            Assert.Null(await bed.App.Services.GetRequiredService<TakeBackDecision>().RunAsync(id, 1, by, null, IntakeBed.Ct));
            Assert.Equal(["pass|65/55 dB SPL|31.5|4|0.35|48|2000:8.1:-6.2:14.3;3000:5:-9"], await DetailsAsync(bed));
        }
    }

    [Fact]
    public async Task It_is_on_the_record_in_the_export_and_beside_the_sites_criterion()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await StateCriterionAsync(bed);
        await SendAsync(bed, Birth + Screen(Full) + Screen(",,,,,2000:8:0;3000:9:0;4000:1:0", "refer", ear: "left")
            + ",birth,A2,2026-11-01,male,,,,,,,,,,,\n" + Screen(",,,,,2000:2:0;3000:9:0;4000:1:0", number: "A2") + Screen(
                None, ear: "left", number: "A2"));
        var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var infant = (await bed.ListAsync("select infant_id from infant_identifiers where value = 'A1'"))[0];

        var record = await client.GetStringAsync($"/infants/{infant}", IntakeBed.Ct);
        Assert.Contains("Emission level (circle) above the noise floor", record, StringComparison.Ordinal);
        Assert.Contains("2,000", record, StringComparison.Ordinal);
        Assert.Contains("31.5 s", record, StringComparison.Ordinal);
        Assert.Contains("Reported as a refer, while 2 of 3 reported bands meet the site&#x27;s own criterion, which needs 2.", record,
            StringComparison.Ordinal);

        // Three tests have bands: the right ear of A1 agrees, the other two differ; every number opens as many tests as it counts.
        var site = await client.GetStringAsync("/sites/harbour?from=2026-11-01&to=2026-11-25", IntakeBed.Ct);
        Assert.Contains(">2 of 3</a>", site, StringComparison.Ordinal);
        foreach (var (show, count) in new[] { ("compared", 3), ("differs", 2), ("pass_below_criterion", 1), ("pass_with_too_few_bands", 0),
            ("refer_meets_criterion", 1) })
        {
            var list = await client.GetStringAsync($"/sites/harbour/tests?from=2026-11-01&to=2026-11-25&show={show}&handler=Csv",
                IntakeBed.Ct);
            Assert.Equal(count, list.Split('\n', StringSplitOptions.RemoveEmptyEntries).Length - 1);
        }

        // Nothing is compared for a site that states no criterion.
        var other = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        Assert.DoesNotContain("own criterion", await other.GetStringAsync("/sites/hill", IntakeBed.Ct), StringComparison.Ordinal);

        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var facts = await coordinator.GetStringAsync("/api/v1/export/facts", IntakeBed.Ct);
        Assert.Contains("\"bands\": \"2000:8.1:-6.2:14.3;3000:5:-9\"", facts, StringComparison.Ordinal);
        Assert.Contains("65/55 dB SPL,31.5,4,0.35,48,2000:8.1:-6.2:14.3;3000:5:-9",
            await coordinator.GetStringAsync("/api/v1/export/facts?format=csv", IntakeBed.Ct), StringComparison.Ordinal);
    }

    internal static Task StateCriterionAsync(IntakeBed bed) => bed.DecidePolicyAsync(p => p with
    {
        PassCriteria = [new PassCriterion(2, 6) { Site = "harbour", Method = ScreeningMethod.Dpoae }],
    });
}
