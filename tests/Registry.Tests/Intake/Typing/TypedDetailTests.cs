using System.Net;
using Registry.Records;
using Registry.Tests.FollowUp;

namespace Registry.Tests.Intake.Typing;

/// <summary>What a file may state can be typed: all of a test, and that two record numbers are one infant's.</summary>
public sealed class TypedDetailTests(TestDatabase database)
{
    private const string Rows =
        """
        kind,record_number,birth_date,sex,infant_given_name,mother_given_name,mother_family_name,mother_birth_date
        birth,H-1,2026-11-20,female,Ilse,Ada,Marlow,1995-02-03
        birth,H-2,2026-11-21,male,Olaf,Nora,Berg,1991-04-05

        """;

    [Fact]
    public async Task All_of_a_test_is_typed_under_more_and_what_was_not_done_measured_nothing()
    {
        await using var bed = await FilledAsync();
        using var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var path = $"/infants/{await WorkBed.IdAsync(bed, "H-1")}/screen";
        var page = await client.GetStringAsync(path, IntakeBed.Ct);
        Assert.Contains("<summary>More of this test</summary>", page, StringComparison.Ordinal);
        Assert.DoesNotContain("class=\"more\" open", page, StringComparison.Ordinal);
        (string, string)[] both =
        [
            ("outcome_right", "refer"), ("outcome_left", "not_performed"), ("reason_left", "other"), ("method", "teoae"),
            ("day", "2026-11-21"), ("time", "09:15"),
            ("stage", "birth_admission"), ("probe", "P-7"), ("screener", "R. Vale"), ("stimulus_right", "click 80 dB"),
            ("duration_seconds_right", "41.5"), ("artefacts_rejected_right", "3"), ("ear_canal_volume_ml_right", "0.4"),
            ("ambient_noise_db_right", "48"), ("bands_right", "2000:8:-6:14;4000:5:-9"), ("stimulus_left", "click 80 dB"),
        ];
        using (var wrong = await TypedForms.PostAsync(client, path, TypedForms.Of(page), [.. both, ("duration_seconds_right", "long")]))
        {
            var said = WebUtility.HtmlDecode(await wrong.Content.ReadAsStringAsync(IntakeBed.Ct));
            Assert.Equal(HttpStatusCode.UnprocessableEntity, wrong.StatusCode);
            Assert.Contains("Duration, seconds: is not a number", said, StringComparison.Ordinal);
            Assert.Contains("class=\"more\" open", said, StringComparison.Ordinal);
        }

        using var saved = await TypedForms.PostAsync(client, path, TypedForms.Of(page), both);
        Assert.Equal(HttpStatusCode.Redirect, saved.StatusCode);
        Assert.Equal(
            ["left not_performed birth_admission P-7 R. Vale",
                "right refer birth_admission P-7 R. Vale click 80 dB 41.5 3 0.4 48 2000:8:-6:14;4000:5:-9"],
            await bed.ListAsync("select concat_ws(' ', ear, outcome, stage, probe, screener, stimulus, trim_scale(duration_seconds), "
                + "artefacts_rejected, trim_scale(ear_canal_volume_ml), trim_scale(ambient_noise_db), bands) from screenings s "
                + "left join test_details d on d.screening_id = s.id where superseded_at is null order by ear"));
    }

    [Fact]
    public async Task A_coordinator_says_that_two_numbers_are_one_infants_after_seeing_both()
    {
        await using var bed = await FilledAsync();
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var id = await WorkBed.IdAsync(bed, "H-1");
        var path = $"/infants/{id}/enter/merge";
        Assert.Contains($"{path}?back=", await coordinator.GetStringAsync($"/infants/{id}", IntakeBed.Ct), StringComparison.Ordinal);

        // Another infant has the number: both are shown, and all that can come of it is that a person decides.
        using (var two = await TypedForms.PostAsync(coordinator, path, await TypedForms.OpenAsync(coordinator, path),
            ("prior_record_number", "H-2"), ("Form.Site", "harbour")))
        {
            var said = WebUtility.HtmlDecode(await two.Content.ReadAsStringAsync(IntakeBed.Ct));
            Assert.Equal(HttpStatusCode.OK, two.StatusCode);
            Assert.Contains("The infant of this record: Ilse, born 20 Nov 2026, mother Ada Marlow", said, StringComparison.Ordinal);
            Assert.Contains("An infant that has the earlier number: Olaf, born 21 Nov 2026, mother Nora Berg", said,
                StringComparison.Ordinal);
            Assert.Contains($"/infants/{await WorkBed.IdAsync(bed, "H-2")}\">Open that record", said, StringComparison.Ordinal);
            Assert.Contains("It would wait for a person", said, StringComparison.Ordinal);
        }

        // Nobody has it: said too, and recorded when confirmed.
        var form = await TypedForms.OpenAsync(coordinator, path);
        (string, string)[] typed = [("prior_record_number", "OLD-7"), ("Form.Site", "harbour")];
        using (var asked = await TypedForms.PostAsync(coordinator, path, form, typed))
            Assert.Contains("No other infant has the earlier number",
                await asked.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Equal(["0"], await bed.ListAsync("select count(*) from submissions where format = 'typed'"));
        using var saved = await TypedForms.PostAsync(coordinator, path, form, [.. typed, ("Form.Confirmed", "true")]);
        Assert.Equal(HttpStatusCode.Redirect, saved.StatusCode);
        Assert.Equal(id, await WorkBed.IdAsync(bed, "OLD-7"));
        Assert.Equal(["2"], await bed.ListAsync("select count(*) from infants"));

        // A site puts its numbers together by a file; the form is the office's.
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        Assert.Equal(HttpStatusCode.NotFound, (await manager.GetAsync(path, IntakeBed.Ct)).StatusCode);
        Assert.Equal(HttpStatusCode.NotFound, (await SignedIn.SendFormAsync(manager, path, typed)).StatusCode);
    }

    private async Task<IntakeBed> FilledAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows, at: bed.Now.AddDays(-1));
        return bed;
    }
}
