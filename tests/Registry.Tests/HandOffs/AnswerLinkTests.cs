using System.Net;
using System.Text.RegularExpressions;
using Registry.Records;
using Registry.Tests.FollowUp;
using Registry.Tests.Intake;
using Registry.Tests.Outreach;

namespace Registry.Tests.HandOffs;

/// <summary>A link by which somebody without an account answers: what it takes, what it shows, and what it withstands.</summary>
public sealed partial class AnswerLinkTests(TestDatabase database)
{
    private static readonly (string, string)[] Normal =
    [
        ("send", "true"), ("Form.Columns[evaluated_on]", "2026-11-20"), ("Form.Columns[right_finding]", "sensorineural"),
        ("Form.Columns[left_finding]", "normal"), ("Form.Columns[right_degree]", "moderate"),
    ];

    [Fact]
    public async Task A_result_by_a_link_is_a_row_like_any_other_once()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var (infant, _) = await beds.HandedAsync(coordinator, "W-1", "clinic", "cove");
        var link = await AskAsync(coordinator, infant, ("ToSite", "cove"), ("Step", "Diagnosis"));
        using var clinic = SignedIn.Nobody(bed);
        var page = HandOffBed.Said(await clinic.GetStringAsync(link, IntakeBed.Ct));
        foreach (var kept in new[] { "Marlow", "Ilse", "2026-10-10", "10 Oct", "W-1", "diagnosis", "refer" })
            Assert.DoesNotContain(kept, page, StringComparison.OrdinalIgnoreCase);

        var shown = await TextAsync(clinic, link, HttpStatusCode.OK, ("Form.BornOn", "2026-10-10"));
        Assert.Contains("Ilse, born 10 Oct 2026, mother Ada Marlow", shown, StringComparison.Ordinal);
        foreach (var kept in new[] { "W-1", "aabr", "AABR", "Harbour", "555-0142", "1985" })
            Assert.DoesNotContain(kept, shown, StringComparison.Ordinal);

        // The same checks as a row: nothing is stored, and the link still opens.
        Assert.Contains("future", await TextAsync(clinic, link, HttpStatusCode.UnprocessableEntity,
            [("Form.BornOn", "2026-10-10"), ("send", "true"), ("Form.Columns[evaluated_on]", "2027-01-01"),
                ("Form.Columns[right_finding]", "normal"), ("Form.Columns[left_finding]", "normal")]), StringComparison.OrdinalIgnoreCase);
        Assert.Contains("Thank you", await TextAsync(clinic, link, HttpStatusCode.OK, [("Form.BornOn", "2026-10-10"), .. Normal]),
            StringComparison.Ordinal);
        Assert.Equal(["cove sensorineural moderate"], await bed.ListAsync(
            "select concat_ws(' ', s.code, right_finding, right_degree) from diagnoses d join sites s on s.id = d.site_id"));
        Assert.Equal(["answered"], await bed.ListAsync($"select note from access_records where kind = 'answer_asked' "
            + $"and infant_id = '{infant}' and person_id is null"));

        // Replayed, it takes nothing.
        await RefusedAsync(clinic, link, [("Form.BornOn", "2026-10-10"), .. Normal]);
        using (var again = await clinic.GetAsync(link, IntakeBed.Ct)) Assert.Equal(HttpStatusCode.NotFound, again.StatusCode);
        Assert.Equal(1, await bed.CountAsync("diagnoses"));
    }

    [Fact]
    public async Task What_a_site_sends_that_has_nothing_to_do_with_the_infant_waits_for_a_person()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var infant = await WorkBed.IdAsync(bed, "W-1");
        var link = await AskAsync(coordinator, infant, ("ToSite", "cove"), ("Step", "Diagnosis"));
        using var clinic = SignedIn.Nobody(bed);
        await TextAsync(clinic, link, HttpStatusCode.OK, [("Form.BornOn", "2026-10-10"), .. Normal]);
        Assert.Equal(0, await bed.CountAsync("diagnoses"));
        Assert.Equal(["awaits_confirmation"], await bed.ListAsync("select reason from held_rows where resolution is null"));
        Assert.Equal(0, await bed.CountAsync($"infant_sites where site_id = '{beds.Clinic.Value}'"));
        Assert.Contains("Site cove", await coordinator.GetStringAsync("/claims", IntakeBed.Ct), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_hand_off_is_acknowledged_or_comes_back_by_a_link()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var (infant, handOff) = await beds.HandedAsync(coordinator, "W-1", "medical_home", "Dr. Okafor");
        var link = await AskAsync(coordinator, infant, ("HandOff", handOff));
        using var doctor = SignedIn.Nobody(bed);
        await TextAsync(doctor, link, HttpStatusCode.UnprocessableEntity,
            ("Form.BornOn", "2026-10-10"), ("send", "true"), ("Form.Act", "Withdrawn"));
        await TextAsync(doctor, link, HttpStatusCode.UnprocessableEntity,
            ("Form.BornOn", "2026-10-10"), ("send", "true"), ("Form.Act", "ConsentRecorded"));
        await TextAsync(doctor, link, HttpStatusCode.OK, ("Form.BornOn", "2026-10-10"), ("send", "true"), ("Form.Act", "Accepted"));
        Assert.Equal("accepted", await beds.StateAsync(handOff));
        Assert.Contains("by a link, without an account",
            await coordinator.GetStringAsync($"/infants/{infant}/hand-offs", IntakeBed.Ct), StringComparison.Ordinal);
        await RefusedAsync(
            doctor, link, [("Form.BornOn", "2026-10-10"), ("send", "true"), ("Form.Act", "Returned"), ("Form.Reason", "other")]);
        Assert.Equal("accepted", await beds.StateAsync(handOff));
    }

    [Fact]
    public async Task Guessed_altered_closed_run_out_and_anothers_links_open_nothing_and_are_answered_alike()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var (infant, other) = (await WorkBed.IdAsync(bed, "W-1"), await WorkBed.IdAsync(bed, "W-2"));
        using var stranger = SignedIn.Nobody(bed);
        var link = await AskAsync(coordinator, infant, ("ToSite", "cove"), ("Step", "Diagnosis"));
        var born = ("Form.BornOn", "2026-10-10");
        var token = link["/answer/".Length..];
        var altered = (token[0] == 'A' ? 'B' : 'A') + token[1..];
        foreach (var wrong in new[] { altered, token[..^1], token + "A", new string('A', 43), "x", token.ToUpperInvariant() })
            await RefusedAsync(stranger, $"/answer/{wrong}", [born, .. Normal]);
        foreach (var verb in new[] { HttpMethod.Put, HttpMethod.Delete, HttpMethod.Patch, HttpMethod.Options })
            using (var answer = await stranger.SendAsync(new(verb, link), IntakeBed.Ct)) Assert.False(answer.IsSuccessStatusCode);
        // What it says of an infant or a request in the form changes nothing: the link is of one request.
        await TextAsync(stranger, link, HttpStatusCode.OK, born, ("infant", other), ("Form.Infant", other), ("id", other));

        // Asked again, the link before is closed; closed by hand, and run out, the next.
        var second = await AskAsync(coordinator, infant, ("ToSite", "cove"), ("Step", "Diagnosis"));
        await RefusedAsync(stranger, link, [born, .. Normal]);
        var request = (await bed.ListAsync("select id from answer_requests where revoked_at is null"))[0];
        using (var elsewhere = await SignedIn.SendFormAsync(coordinator, $"/infants/{other}/ask?handler=Revoke", ("request", request))) { }
        Assert.Equal(1, await bed.CountAsync("answer_requests where revoked_at is null"));
        using (await SignedIn.SendFormAsync(coordinator, $"/infants/{infant}/ask?handler=Revoke", ("request", request))) { }
        await RefusedAsync(stranger, second, [born, .. Normal]);
        var third = await AskAsync(coordinator, infant, ("ToSite", "cove"), ("Step", "Diagnosis"));
        await bed.App.AsOwnerAsync("update answer_requests set ends_at = now() - interval '1 minute' where revoked_at is null");
        await RefusedAsync(stranger, third, [born, .. Normal]);

        Assert.Equal((0, 0), (await bed.CountAsync("diagnoses"), await bed.CountAsync("held_rows")));
        // Who may not ask makes no link.
        foreach (var (role, site) in new (Role, SiteId?)[] { (Role.Screener, bed.Harbour), (Role.AudiologyClinic, beds.Clinic) })
        {
            using var client = await SignedIn.AsAsync(bed, role, site);
            using var asked = await SignedIn.SendFormAsync(client, $"/infants/{infant}/ask", ("ToSite", "cove"), ("Step", "Diagnosis"));
            Assert.Equal(HttpStatusCode.NotFound, asked.StatusCode);
        }
    }

    [Fact]
    public async Task Wrong_birth_dates_close_the_link_however_many_come_at_once()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        await bed.DecidePolicyAsync(p => p with { AnswerLinkTries = 3 });
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var infant = await WorkBed.IdAsync(bed, "W-1");
        var link = await AskAsync(coordinator, infant, ("ToSite", "cove"), ("Step", "Diagnosis"));
        using var stranger = SignedIn.Nobody(bed);
        var token = await SignedIn.TokenAsync(stranger, link);
        var answers = await Task.WhenAll(Enumerable.Range(0, 20).Select(async i =>
        {
            using var answer = await PostAsync(stranger, link, token, [("Form.BornOn", $"2026-09-{1 + i:00}"), .. Normal]);
            return answer.StatusCode;
        }));
        Assert.All(answers, a => Assert.True(a is HttpStatusCode.UnprocessableEntity or HttpStatusCode.TooManyRequests));
        Assert.Equal(["3 closed"], await bed.ListAsync(
            "select concat_ws(' ', tries, case when revoked_at is not null then 'closed' end) from answer_requests"));
        using var right = await PostAsync(stranger, link, token, [("Form.BornOn", "2026-10-10"), .. Normal]);
        Assert.True(right.StatusCode is HttpStatusCode.UnprocessableEntity or HttpStatusCode.TooManyRequests);
        Assert.Equal(0, await bed.CountAsync("submissions where format = 'typed'"));
        Assert.True(await bed.CountAsync("access_records where kind = 'answer_refused'") >= 3);
    }

    [Fact]
    public async Task Twelve_answers_at_once_are_one()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var (infant, _) = await beds.HandedAsync(coordinator, "W-1", "clinic", "cove");
        var link = await AskAsync(coordinator, infant, ("ToSite", "cove"), ("Step", "Diagnosis"));
        using var clinic = SignedIn.Nobody(bed);
        var token = await SignedIn.TokenAsync(clinic, link);
        await Task.WhenAll(Enumerable.Range(0, 12).Select(async i =>
        {
            using var answer = await PostAsync(clinic, link, token, [("Form.BornOn", "2026-10-10"), ("send", "true"),
                ("Form.Columns[evaluated_on]", $"2026-11-{1 + i:00}"), ("Form.Columns[right_finding]", "normal"),
                ("Form.Columns[left_finding]", "normal")]);
        }));
        Assert.Equal((1, 1), (await bed.CountAsync("diagnoses"), await bed.CountAsync("submissions where format = 'typed'")));
        Assert.Equal(1, await bed.CountAsync("answer_requests where answered_at is not null and submission_id is not null"));
    }

    [Fact]
    public async Task A_letter_holds_the_link_and_names_nobody()
    {
        await using var sink = new SmtpSink();
        await using var beds = await HandOffBed.StartAsync(database, settings: RemindersTests.Smtp(sink));
        using var coordinator = await SignedIn.AsAsync(beds.Bed, Role.Coordinator, null);
        var infant = await WorkBed.IdAsync(beds.Bed, "W-1");
        using (var asked = await SignedIn.SendFormAsync(coordinator, $"/infants/{infant}/ask", ("ToSite", "cove"), ("Step", "Diagnosis"),
            ("Email", "front.desk@cove.example"))) Assert.Equal(HttpStatusCode.Redirect, asked.StatusCode);
        var (to, message) = Assert.Single(sink.Received);
        Assert.Contains("<front.desk@cove.example>", to, StringComparison.Ordinal);
        Assert.Matches("/answer/[A-Za-z0-9_-]{43}", message.Replace("=\r\n", "", StringComparison.Ordinal));
        foreach (var kept in new[] { "Marlow", "Ilse", "W-1", "2026-10-10", "10 Oct", "diagnosis", "refer", infant })
            Assert.DoesNotContain(kept, message, StringComparison.OrdinalIgnoreCase);
    }

    private static async Task<string> AskAsync(HttpClient coordinator, string infant, params (string, string)[] fields)
    {
        using var asked = await SignedIn.SendFormAsync(coordinator, $"/infants/{infant}/ask", fields);
        Assert.Equal(HttpStatusCode.OK, asked.StatusCode);
        return Link().Match(await asked.Content.ReadAsStringAsync(IntakeBed.Ct)).Value;
    }

    private static async Task<string> TextAsync(
        HttpClient client, string link, HttpStatusCode status, params (string, string)[] fields)
    {
        using var answer = await PostAsync(client, link, await SignedIn.TokenAsync(client, "/sign-in"), fields);
        Assert.Equal(status, answer.StatusCode);
        return WebUtility.HtmlDecode(SignedIn.Plain(await answer.Content.ReadAsStringAsync(IntakeBed.Ct)));
    }

    private static async Task RefusedAsync(HttpClient client, string link, (string, string)[] fields)
    {
        var text = await TextAsync(client, link, HttpStatusCode.UnprocessableEntity, fields);
        Assert.Contains("That did not match, or the link opens nothing any more.", text, StringComparison.Ordinal);
        Assert.DoesNotContain("Ilse", text, StringComparison.Ordinal);
    }

    private static async Task<HttpResponseMessage> PostAsync(HttpClient client, string link, string token, (string, string)[] fields)
    {
        using var form = new FormUrlEncodedContent(fields.Append(("__RequestVerificationToken", token))
            .Select(f => new KeyValuePair<string, string>(f.Item1, f.Item2)));
        return await client.PostAsync(link, form, IntakeBed.Ct);
    }

    [GeneratedRegex("/answer/[A-Za-z0-9_-]{43}")]
    private static partial Regex Link();
}
