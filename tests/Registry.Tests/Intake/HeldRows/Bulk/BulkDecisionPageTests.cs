using System.Net;
using System.Text.RegularExpressions;
using Registry.Platform.Encryption;
using Registry.Records;
using static Registry.Tests.Intake.HeldRows.WaitingRowsForms;

namespace Registry.Tests.Intake.HeldRows.Bulk;

/// <summary>The page of rows decided together, over HTTP: who may decide, and that only what was tried is carried out.</summary>
public sealed class BulkDecisionPageTests(TestDatabase database)
{
    [Fact]
    public async Task Nothing_is_put_together_without_a_tick()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Header + Screens(2, "teoae"));
        var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        Assert.Contains("Tick the rows first", await SaidAsync(screener, await PostAsync(screener, "/submissions/held", "Choose")),
            StringComparison.Ordinal);
    }

    /// <summary>The two waiting rows of a submission, ticked by a screener.</summary>
    private static async Task<string> TickBothAsync(IntakeBed bed)
    {
        var id = await bed.SendAsync(Header + Screens(2, "teoae"));
        var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var chosen = await PostAsync(screener, "/submissions/held", "Choose", null, ("ticked", $"{id}/1"), ("ticked", $"{id}/2"));
        var bulk = chosen.Headers.Location!.OriginalString;
        Assert.StartsWith("/submissions/held/bulk/", bulk, StringComparison.Ordinal);
        return bulk;
    }

    [Fact]
    public async Task Another_site_finds_no_such_decision()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var bulk = await TickBothAsync(bed);
        var other = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        Assert.Equal(HttpStatusCode.NotFound, (await other.GetAsync(bulk, IntakeBed.Ct)).StatusCode);
        Assert.Equal(HttpStatusCode.NotFound, (await PostAsync(other, bulk, "Discard", "/submissions/new")).StatusCode);
    }

    [Fact]
    public async Task Each_role_decides_what_it_may()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var bulk = await TickBothAsync(bed);
        var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        Assert.True(IsDenied(await PostAsync(screener, bulk, "Discard")));
        Assert.True(IsDenied(await PostAsync(manager, bulk, "Match", null, ("infant", Guid.NewGuid().ToString()))));
    }

    [Fact]
    public async Task A_manager_decides_once_and_takes_it_back_and_the_look_is_recorded()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var bulk = await TickBothAsync(bed);
        var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        await PostAsync(manager, bulk, "Discard");
        Assert.Equal(2, await bed.CountAsync("submission_rows where discarded_at is not null"));
        Assert.Contains("decided already", await SaidAsync(manager, await PostAsync(manager, bulk, "Discard")), StringComparison.Ordinal);
        Assert.True(IsDenied(await PostAsync(screener, bulk, "TakeBack")));
        await PostAsync(manager, bulk, "TakeBack");
        Assert.Equal(2, await bed.CountAsync("held_rows where reason = 'no_such_infant' and resolution is null"));
        Assert.Equal(0, await bed.CountAsync("submission_rows where outcome <> 'held'"));
        Assert.True(await bed.CountAsync("access_records where action like '%/bulk/%' and infant_count = 2") > 0);
    }

    /// <summary>Three tests of a wrong outcome: two state no instrument, one an instrument of two lines.</summary>
    private sealed class Instruments(IntakeBed bed, HttpClient manager) : IAsyncDisposable
    {
        public IntakeBed Bed => bed;

        public static async Task<Instruments> StartAsync(TestDatabase database)
        {
            var bed = await IntakeBed.StartAsync(database);
            await bed.SendAsync("kind,record_number,ear,outcome,method,performed_at,instrument\n"
                + "screening,A1,right,maybe,oae,2026-11-02T09:15,\nscreening,A2,right,maybe,oae,2026-11-02T09:15,\n"
                + "screening,A3,right,maybe,oae,2026-11-02T09:15,\"ward\n2\"\n");
            return new(bed, await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour));
        }

        public async Task<string> ChooseAllAsync() =>
            (await PostAsync(manager, "/submissions/held", "Choose", null, ("all", "true"))).Headers.Location!.OriginalString;

        public Task<HttpResponseMessage> SendAsync(string bulk, string handler, params (string, string)[] form) =>
            PostAsync(manager, bulk, handler, null, form);

        /// <summary>The page after looking what a form would do.</summary>
        public async Task<string> TryAsync(string bulk, params (string, string)[] form) =>
            await PageAsync(await SendAsync(bulk, "Try", form));

        public Task<HttpResponseMessage> GetAsync(string path) => manager.GetAsync(path, IntakeBed.Ct);

        /// <summary>What the rows state.</summary>
        public Task<List<string>> StatedAsync() => bed.StatedAsync(Registry.Intake.Rows.Field.Instrument);

        public ValueTask DisposeAsync() => bed.DisposeAsync();
    }

    private static (string, string)[] Form(string rows, string to, string? tried = null, string stated = "", string of = "instrument") =>
    [
        ("Correction.Field", "instrument"), ("Correction.Of", of), ("Correction.Rows", rows), ("Correction.Stated", stated),
        ("Correction.To", to),
        .. tried is null ? [] : new[] { ("Correction.Tried", tried) },
    ];

    [Fact]
    public async Task A_column_lists_what_the_rows_state_before_anything_is_tried()
    {
        await using var rows = await Instruments.StartAsync(database);
        var page = await rows.TryAsync(await rows.ChooseAllAsync(), ("Correction.Field", "instrument"));
        Assert.DoesNotContain("would be changed", page, StringComparison.Ordinal);
        Assert.Contains("nothing (2 rows)", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_trial_says_how_many_rows_it_would_change_and_keeps_what_was_chosen()
    {
        await using var rows = await Instruments.StartAsync(database);
        var page = await rows.TryAsync(await rows.ChooseAllAsync(), Form("absent", "ward 1"));
        Assert.Contains("2 of 3 rows would be changed", Regex.Replace(page, "<[^>]+>", ""), StringComparison.Ordinal);
        Assert.Matches("value=\"absent\" selected", page);
    }

    [Fact]
    public async Task Another_correction_than_the_one_that_was_tried_is_not_carried_out()
    {
        await using var rows = await Instruments.StartAsync(database);
        var bulk = await rows.ChooseAllAsync();
        var tried = HiddenOf(await rows.TryAsync(bulk, Form("absent", "ward 1")), "Correction.Tried");
        foreach (var other in new[] { Form("any", "ward 1", tried), Form("absent", "ward 9", tried),
            Form("typed", "ward 1", tried, "ward 3"), Form("absent", "ward 1"), Form("absent", "ward 1", tried, of: "probe") })
            Assert.Contains("The choice is not the one that was tried",
                await PageAsync(await rows.SendAsync(bulk, "Correct", other)), StringComparison.Ordinal);
        Assert.Equal(["-", "-", "ward\n2"], await rows.StatedAsync());
        Assert.Equal(0, await rows.Bed.CountAsync("bulk_decisions where decided_at is not null"));
    }

    [Fact]
    public async Task What_was_tried_is_carried_out_and_rows_that_do_not_pass_stay_as_they_are()
    {
        await using var rows = await Instruments.StartAsync(database);
        var bulk = await rows.ChooseAllAsync();
        var tried = HiddenOf(await rows.TryAsync(bulk, Form("absent", "ward 1")), "Correction.Tried");
        Assert.Equal(HttpStatusCode.Redirect, (await rows.SendAsync(bulk, "Correct", Form("absent", "ward 1", tried))).StatusCode);
        var decided = (await rows.Bed.ListAsync("select concat_ws('|', field, from_value, to_value) from bulk_decisions"))[0].Split('|');
        Assert.Equal(["instrument", "", "ward 1"], [decided[0],
            FieldKeys.OfProcess.Decrypt(decided[1], "bulk_decisions.from_value"),
            FieldKeys.OfProcess.Decrypt(decided[2], "bulk_decisions.to_value")]);
        Assert.DoesNotContain("ward", decided[2], StringComparison.Ordinal);
        // The outcome is wrong still.
        Assert.Equal(["-", "-", "ward\n2"], await rows.StatedAsync());
    }

    [Fact]
    public async Task A_listed_value_of_two_lines_can_be_cleared()
    {
        await using var rows = await Instruments.StartAsync(database);
        var id = (await rows.Bed.ListAsync("select distinct submission_id from submission_rows"))[0];
        await rows.SendAsync($"/submissions/{id}/rows/3", "Correct", ("Values[outcome]", "pass"), ("Seen", "0"));
        var bulk = await rows.ChooseAllAsync();
        var listed = await rows.TryAsync(bulk, ("Correction.Field", "instrument"));
        var key = "value-" + listed.Split("<option value=\"value-")[1].Split('"')[0];
        var tried = HiddenOf(await rows.TryAsync(bulk, Form(key, "")), "Correction.Tried");
        await rows.SendAsync(bulk, "Correct", Form(key, "", tried));
        Assert.Equal(["-", "-", "-"], await rows.StatedAsync());
    }

    [Fact]
    public async Task What_the_rows_state_must_be_typed_where_that_was_chosen()
    {
        await using var rows = await Instruments.StartAsync(database);
        Assert.Contains("Type what the rows state.", await rows.TryAsync(await rows.ChooseAllAsync(), Form("typed", "x")),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task Any_page_number_shows_a_page()
    {
        await using var rows = await Instruments.StartAsync(database);
        var bulk = await rows.ChooseAllAsync();
        foreach (var number in new[] { "99", "-1", "2000000000", "x" })
            Assert.Equal(HttpStatusCode.OK, (await rows.GetAsync($"{bulk}?page={number}")).StatusCode);
    }
}
