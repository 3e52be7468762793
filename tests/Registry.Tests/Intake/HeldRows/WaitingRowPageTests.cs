using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.Applying;
using Registry.Intake.Rows;
using Registry.Records;
using static Registry.Tests.Intake.HeldRows.WaitingRowsForms;

namespace Registry.Tests.Intake.HeldRows;

/// <summary>The page of one held or rejected row, over HTTP: who may do what, what the form changes, what it says afterwards.</summary>
public sealed class WaitingRowPageTests(TestDatabase database)
{
    /// <summary>A birth, and two tests that wait.</summary>
    /// <param name="Rejected">The page of the one whose outcome is no code.</param>
    /// <param name="Held">The page of the one whose infant nobody knows.</param>
    private sealed record Scene(IntakeBed Bed, SubmissionId Id, string Rejected, string Held) : IAsyncDisposable
    {
        public Task<HttpClient> SignInAsync(Role role, SiteId? site = null) =>
            SignedIn.AsAsync(Bed, role, role == Role.Coordinator ? null : site ?? Bed.Harbour);

        public ValueTask DisposeAsync() => Bed.DisposeAsync();
    }

    private async Task<Scene> TwoTestsWaitAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendAsync(
            Header + Births(1) + "screening,A1,,,,right,maybe,oae,2026-11-02T09:15\nscreening,A9,,,,left,pass,oae,2026-11-02T09:15\n");
        return new(bed, id, $"/submissions/{id}/rows/2", $"/submissions/{id}/rows/3");
    }

    [Fact]
    public async Task Only_a_manager_discards_and_only_a_coordinator_says_whom_a_row_is_about()
    {
        await using var scene = await TwoTestsWaitAsync();
        var infant = (await scene.Bed.ListAsync("select id from infants"))[0];
        var screener = await scene.SignInAsync(Role.Screener);
        var manager = await scene.SignInAsync(Role.SiteManager);

        Assert.True(IsDenied(await PostAsync(screener, scene.Rejected, "Discard")));
        foreach (var client in new[] { screener, manager })
            foreach (var handler in new[] { "Match", "New" })
                Assert.True(IsDenied(await PostAsync(client, scene.Held, handler, null, ("infant", infant))));
    }

    [Fact]
    public async Task Another_site_finds_no_such_row()
    {
        await using var scene = await TwoTestsWaitAsync();
        var other = await scene.SignInAsync(Role.SiteManager, scene.Bed.Hill);
        Assert.Equal(HttpStatusCode.NotFound, (await other.GetAsync(scene.Rejected, IntakeBed.Ct)).StatusCode);
        Assert.Equal(HttpStatusCode.NotFound, (await PostAsync(other, scene.Rejected, "Discard", "/submissions/new")).StatusCode);
        Assert.Equal(HttpStatusCode.NotFound,
            (await PostAsync(other, scene.Rejected, "Correct", "/submissions/new", ("Values[outcome]", "pass"))).StatusCode);
    }

    [Fact]
    public async Task A_correction_that_does_not_pass_is_shown_again_with_what_is_wrong()
    {
        await using var scene = await TwoTestsWaitAsync();
        var screener = await scene.SignInAsync(Role.Screener);
        var wrong = await PostAsync(screener, scene.Rejected, "Correct", null, ("Values[outcome]", "pass"), ("Values[ear]", "middle"),
            ("Seen", "0"));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, wrong.StatusCode);
        var page = WebUtility.HtmlDecode(await wrong.Content.ReadAsStringAsync(IntakeBed.Ct));
        Assert.Contains("value=\"middle\"", page, StringComparison.Ordinal);
        Assert.Contains("is none of these: Right ear, Left ear", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_screener_corrects_a_row_and_its_page_shows_what_stood_there()
    {
        await using var scene = await TwoTestsWaitAsync();
        var screener = await scene.SignInAsync(Role.Screener);
        Assert.Contains("The corrected row was applied.", await SaidAsync(
            screener, await PostAsync(screener, scene.Rejected, "Correct", null, ("Values[outcome]", "pass"), ("Seen", "0"))),
            StringComparison.Ordinal);
        Assert.Equal(["accepted", "accepted", "held no_such_infant"], await scene.Bed.OutcomesAsync(scene.Id));
        var manager = await scene.SignInAsync(Role.SiteManager);
        Assert.Contains("<del>maybe</del>", WebUtility.HtmlDecode(await manager.GetStringAsync(scene.Rejected, IntakeBed.Ct)),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_manager_discards_a_row_and_takes_it_back_and_who_may_not_discard_may_do_neither()
    {
        await using var scene = await TwoTestsWaitAsync();
        var screener = await scene.SignInAsync(Role.Screener);
        var manager = await scene.SignInAsync(Role.SiteManager);
        Assert.Contains("The row was discarded.",
            await SaidAsync(manager, await PostAsync(manager, scene.Held, "Discard", null, ("Seen", "0"))), StringComparison.Ordinal);
        Assert.True(IsDenied(await PostAsync(screener, scene.Held, "TakeBack")));
        Assert.Contains("waits no more: discarded by SiteManager", WebUtility.HtmlDecode(
            await SaidAsync(screener, await PostAsync(screener, scene.Held, "Retry"))), StringComparison.Ordinal);
        Assert.Contains("The decision was taken back.", await SaidAsync(manager, await PostAsync(manager, scene.Held, "TakeBack")),
            StringComparison.Ordinal);
        Assert.Equal("held no_such_infant", (await scene.Bed.OutcomesAsync(scene.Id))[2]);
    }

    [Fact]
    public async Task Every_look_at_a_row_is_recorded()
    {
        await using var scene = await TwoTestsWaitAsync();
        var screener = await scene.SignInAsync(Role.Screener);
        for (var look = 0; look < 6; look++) await screener.GetStringAsync(scene.Rejected, IntakeBed.Ct);
        Assert.True(await scene.Bed.CountAsync("access_records where action like '%/rows/%'") > 5);
    }

    private const string LongTest = "kind,record_number,ear,outcome,method,performed_at,stimulus,screener\n";

    /// <summary>A rejected test with a value of two lines and a very long one, one like it, and one that is wrong otherwise.</summary>
    private static Task<SubmissionId> SendLongAsync(IntakeBed bed) => bed.SendAsync(LongTest
        + $"screening,A9,right,maybe,oae,2026-11-02T09:15,\"two\nlines\",{LongNote}\nscreening,A8,left,maybe,oae,2026-11-02T09:15,,\n"
        + "screening,A8,left,pass,oae,2026-13-02T09:15,,\n");

    private static readonly string LongNote = new('x', 5_000);

    [Fact]
    public async Task The_form_shows_a_value_whole()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var row = $"/submissions/{await SendLongAsync(bed)}/rows/1";
        var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        Assert.Contains(">two\nlines</textarea>", WebUtility.HtmlDecode(await screener.GetStringAsync(row, IntakeBed.Ct)),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_row_leads_to_the_next_like_it_else_to_any_that_waits()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await SendLongAsync(bed);
        var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        Assert.Contains($"/submissions/{id}/rows/2\">Next row like this",
            WebUtility.HtmlDecode(await screener.GetStringAsync($"/submissions/{id}/rows/1", IntakeBed.Ct)), StringComparison.Ordinal);
        Assert.Contains(">Next waiting row", await screener.GetStringAsync($"/submissions/{id}/rows/3", IntakeBed.Ct),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_value_too_long_is_refused()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var row = $"/submissions/{await SendLongAsync(bed)}/rows/1";
        var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var wrong = await PostAsync(screener, row, "Correct", null, ("Values[outcome]", LongNote), ("Values[stimulus]", "two\r\nlines"),
            ("Seen", "0"));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, wrong.StatusCode);
        Assert.Contains("is longer than 4000 characters", await wrong.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_form_changes_what_was_changed_and_nothing_else()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await SendLongAsync(bed);
        var row = $"/submissions/{id}/rows/1";
        var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        // Everything the form holds is posted; only the outcome and the screener are other than they were.
        await PostAsync(screener, row, "Correct", null, ("Values[outcome]", "pass"), ("Values[stimulus]", "two\r\nlines"),
            ("Values[screener]", "S12"), ("Values[ear]", "right"), ("Seen", "0"));
        Assert.Equal(["held no_such_infant"], (await bed.OutcomesAsync(id))[..1]);
        Assert.Equal("two\nlines", (await bed.StatedAsync(Field.Stimulus))[0]);
        var page = WebUtility.HtmlDecode(await screener.GetStringAsync(row, IntakeBed.Ct));
        Assert.DoesNotContain("Stimulus:</strong> <del>", page, StringComparison.Ordinal);
        Assert.Contains("Outcome:</strong> <del>maybe</del>", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_row_says_that_it_was_recorded_as_a_new_infant_and_by_whom()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var id = await bed.SendAsync("kind,record_number,birth_date,sex,plurality\nbirth,T1,2026-11-01,female,2\n");
        var twin = $"/submissions/{id}/rows/1";
        var page = await SaidAsync(coordinator, await PostAsync(coordinator, twin, "New"));
        Assert.Contains("Recorded as a new infant by Coordinator", page, StringComparison.Ordinal);
        Assert.DoesNotContain("Applied to the chosen infant", page, StringComparison.Ordinal);
    }

    /// <summary>The page of a test that came before its birth, and waits on as if the birth had come at the very same moment.</summary>
    private static async Task<string> TestBeforeItsBirthAsync(IntakeBed bed)
    {
        var id = await bed.SendAsync(
            "kind,record_number,ear,outcome,method,performed_at\nscreening,A1,right,pass,oae,2026-11-02T09:15\n");
        await bed.ListAsync("update held_rows set record_number = null where kind = 'screening'");
        await bed.SendAsync(Header + Births(1));
        return $"/submissions/{id}/rows/1";
    }

    [Fact]
    public async Task A_row_a_person_had_checked_again_does_not_say_that_it_was_applied_by_itself()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var test = await TestBeforeItsBirthAsync(bed);
        var page = await SaidAsync(coordinator, await PostAsync(coordinator, test, "Retry"));
        Assert.Contains("Checked and matched again by Coordinator", page, StringComparison.Ordinal);
        Assert.DoesNotContain("Applied by itself", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_check_taken_back_is_made_again_by_itself()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var test = await TestBeforeItsBirthAsync(bed);
        await PostAsync(coordinator, test, "Retry");
        await PostAsync(coordinator, test, "TakeBack");
        await bed.ListAsync("update held_rows set record_number = 'A1' where kind = 'screening'");
        await PostAsync(coordinator, test, "Retry");
        Assert.Contains("is applied by itself within a minute",
            await SaidAsync(coordinator, await PostAsync(coordinator, test, "TakeBack")), StringComparison.Ordinal);
        await bed.App.Services.GetRequiredService<RetryHeldRows>().ForAllAsync(IntakeBed.Ct);
        Assert.Contains("Applied by itself", await coordinator.GetStringAsync(test, IntakeBed.Ct), StringComparison.Ordinal);
    }

    private static Task<SubmissionId> SendStatedTwiceAsync(IntakeBed bed) => bed.SendAsync(
        """{"kind":"birth","record_number":"A1","birth_date":"2026-11-01","sex":"male","sex":"female","colour":"blue"}""",
        format: SubmissionFormat.Ndjson);

    [Fact]
    public async Task What_the_reader_found_stays_until_all_of_it_is_answered()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var row = $"/submissions/{await SendStatedTwiceAsync(bed)}/rows/1";
        var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        Assert.Contains("Still rejected", await SaidAsync(screener, await PostAsync(screener, row, "Retry")), StringComparison.Ordinal);
        var wrong = await PostAsync(screener, row, "Correct", null, ("Confirmed", "1"), ("Seen", "0"));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, wrong.StatusCode);
        Assert.Matches("name=\"Confirmed\" value=\"1\" checked",
            WebUtility.HtmlDecode(await wrong.Content.ReadAsStringAsync(IntakeBed.Ct)));
    }

    [Fact]
    public async Task What_the_reader_found_is_answered_by_a_tick_and_the_history_says_so()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await SendStatedTwiceAsync(bed);
        var row = $"/submissions/{id}/rows/1";
        var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        await PostAsync(screener, row, "Correct", null, ("Confirmed", "0"), ("Confirmed", "1"), ("Seen", "0"));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(id));
        Assert.Contains("In spite of: <strong title=\"sex\">Sex:</strong> is stated twice",
            WebUtility.HtmlDecode(await screener.GetStringAsync(row, IntakeBed.Ct)), StringComparison.Ordinal);
    }
}
