using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.Applying;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Tests.Fhir;
using Registry.Tests.Intake;
using static Registry.Tests.Intake.HeldRows.WaitingRowsForms;

namespace Registry.Tests.Claims;

/// <summary>What a site reports about an infant it has nothing to do with waits until somebody who cares for the infant, or the office,
/// says that it may; until then nothing of it counts, and the site sees nothing.</summary>
public sealed class ClaimsTests(TestDatabase database)
{
    private const string Header =
        "kind,record_number,card_id,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date,contact_email,email_consent,ear,outcome,method,performed_at,to_site,transferred_on\n";

    /// <summary>Born and referred at the harbour: a rescreen is due.</summary>
    private const string Referred = Header
        + "birth,H1,BS-1,2026-11-01,female,Ada,Marlow,1995-02-03,ada@example.test,yes,,,,,,\n"
        + "screening,H1,,,,,,,,,right,refer,oae,2026-11-02T09:15,,\n"
        + "screening,H1,,,,,,,,,left,refer,oae,2026-11-02T09:20,,\n";

    private const string Passes = Header
        + "screening,,BS-1,2026-11-01,,,Marlow,,,,right,pass,aabr,2026-11-10T09:15,,\n"
        + "screening,,BS-1,2026-11-01,,,Marlow,,,,left,pass,aabr,2026-11-10T09:20,,\n";

    private sealed record Scene(IntakeBed Bed, SiteId Stranger, string Infant) : IAsyncDisposable
    {
        public async Task<string> DueAsync() =>
            string.Join(",", await Bed.ListAsync("select coalesce(next_step, 'none') from infant_status"));

        public Task<List<string>> WaitAsync() =>
            Bed.ListAsync("select reason from held_rows where resolution is null order by submission_id, row_number");

        public (string, string) Ticked => ("ticked", $"{Stranger}/{Infant}");

        /// <summary>Posts a form of the page of claims.</summary>
        /// <returns>What the page says afterwards.</returns>
        public async Task<string> DecideAsync(HttpClient client, string handler, params (string, string)[] form) =>
            await SaidAsync(client, await PostAsync(client, "/claims", handler, "/submissions/new", form));

        public Task<string> TakeBackAsync(HttpClient client) =>
            DecideAsync(client, "TakeBack", ("site", Stranger.ToString()), ("infant", Infant));

        public ValueTask DisposeAsync() => Bed.DisposeAsync();
    }

    private async Task<Scene> ReferredAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Referred);
        var stranger = await bed.AddSiteAsync("stranger", SiteKind.AudiologyClinic);
        var scene = new Scene(bed, stranger, (await bed.ListAsync("select id from infants"))[0]);
        Assert.Equal("rescreen", await scene.DueAsync());
        return scene;
    }

    [Fact]
    public async Task Two_passes_of_a_strange_site_wait_and_what_is_due_stays_due()
    {
        await using var scene = await ReferredAsync();
        var sent = await scene.Bed.SendAsync(Passes, scene.Stranger);
        Assert.Equal(["held awaits_confirmation", "held awaits_confirmation"], await scene.Bed.OutcomesAsync(sent));
        Assert.Equal("rescreen", await scene.DueAsync());

        // The site sees its own rows, and nothing of the infant, not even which one it is.
        var manager = await SignedIn.AsAsync(scene.Bed, Role.SiteManager, scene.Stranger);
        Assert.Equal(HttpStatusCode.NotFound, (await manager.GetAsync($"/infants/{scene.Infant}", IntakeBed.Ct)).StatusCode);
        foreach (var page in new[] { $"/submissions/{sent}", $"/submissions/{sent}/rows/1", "/submissions/held", "/infants", "/follow-up" })
        {
            var text = await manager.GetStringAsync(page, IntakeBed.Ct);
            Assert.DoesNotContain(scene.Infant, text, StringComparison.Ordinal);
            Assert.DoesNotMatch(@"\bAda\b", text); // a list of languages names Adangme
        }

        // Sent again it does not wait twice, and is not told either.
        sent = await scene.Bed.SendAsync(Passes, scene.Stranger);
        Assert.Equal(["still_waiting", "still_waiting"], await scene.Bed.OutcomesAsync(sent));
        Assert.Equal(2, await scene.Bed.CountAsync($"submission_rows where infant_id is null and submission_id = '{sent}'"));

        using var client = await scene.Bed.FhirClientAsync(scene.Stranger);
        Assert.Equal(404, (await client.ReadAsync($"/fhir/Patient/{scene.Infant}/$everything")).Status);
    }

    [Fact]
    public async Task A_birth_row_of_a_strange_site_sets_nobodys_e_mail()
    {
        await using var scene = await ReferredAsync();
        foreach (var who in new[] { ",,BS-1,2026-11-01,female,Ada,Marlow,1995-02-03", ",,,2026-11-01,female,Ada,Marlow,1995-02-03" })
            await scene.Bed.SendAsync(Header + $"birth{who},thief@example.test,yes,,,,,,\n", scene.Stranger);
        Assert.Equal(["awaits_confirmation", "awaits_confirmation"], await scene.WaitAsync());
        Assert.Equal([FieldKeys.OfProcess.KeyOfEmail("ada@example.test")!],
            await scene.Bed.ListAsync("select contact_email_key from births"));
    }

    [Fact]
    public async Task A_confirmed_claim_counts_from_then_on_and_can_be_taken_back()
    {
        await using var scene = await ReferredAsync();
        await scene.Bed.SendAsync(Passes, scene.Stranger);
        var coordinator = await SignedIn.AsAsync(scene.Bed, Role.Coordinator, null);
        var page = WebUtility.HtmlDecode(await coordinator.GetStringAsync("/claims", IntakeBed.Ct));
        foreach (var says in new[] { "Site stranger", "Harbour Hospital", "card id, birth date, mother family name", "outcome pass" })
            Assert.Contains(says, page, StringComparison.Ordinal);

        Assert.Contains("2 reports of Site stranger wait for confirmation",
            await coordinator.GetStringAsync($"/infants/{scene.Infant}", IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Contains("1 claim confirmed", await scene.DecideAsync(coordinator, "Confirm", scene.Ticked), StringComparison.Ordinal);
        Assert.Equal("none", await scene.DueAsync());
        Assert.Empty(await scene.WaitAsync());
        var manager = await SignedIn.AsAsync(scene.Bed, Role.SiteManager, scene.Stranger);
        Assert.Equal(HttpStatusCode.OK, (await manager.GetAsync($"/infants/{scene.Infant}", IntakeBed.Ct)).StatusCode);

        Assert.Contains("waits again", await scene.TakeBackAsync(coordinator), StringComparison.Ordinal);
        Assert.Equal("rescreen", await scene.DueAsync());
        Assert.Equal(["awaits_confirmation", "awaits_confirmation"], await scene.WaitAsync());
        Assert.Equal(HttpStatusCode.NotFound, (await manager.GetAsync($"/infants/{scene.Infant}", IntakeBed.Ct)).StatusCode);
        Assert.Equal(["confirmed", "taken_back"], await scene.Bed.ListAsync("select decision from claim_decisions order by id"));
    }

    [Fact]
    public async Task A_refused_claim_is_kept_and_marked_and_so_is_what_the_site_sends_next()
    {
        await using var scene = await ReferredAsync();
        await scene.Bed.SendAsync(Passes, scene.Stranger);
        var coordinator = await SignedIn.AsAsync(scene.Bed, Role.Coordinator, null);
        Assert.Contains("1 claim refused", await scene.DecideAsync(coordinator, "Refuse", scene.Ticked, ("reason", "never seen there")),
            StringComparison.Ordinal);
        Assert.Equal(["not_confirmed", "not_confirmed"], await scene.WaitAsync());
        await scene.Bed.SendAsync(Passes.Replace("11-10T", "11-12T", StringComparison.Ordinal), scene.Stranger);
        Assert.Equal(4, (await scene.WaitAsync()).Count(r => r == "not_confirmed"));
        Assert.Equal("rescreen", await scene.DueAsync());

        await scene.TakeBackAsync(coordinator);
        Assert.Equal(4, (await scene.WaitAsync()).Count(r => r == "awaits_confirmation"));
    }

    [Fact]
    public async Task The_manager_of_the_birth_site_decides_and_nobody_elses()
    {
        await using var scene = await ReferredAsync();
        await scene.Bed.SendAsync(Passes, scene.Stranger);
        foreach (var site in new[] { scene.Stranger, scene.Bed.Hill })
        {
            var other = await SignedIn.AsAsync(scene.Bed, Role.SiteManager, site);
            Assert.Contains("No claim waits", await other.GetStringAsync("/claims", IntakeBed.Ct), StringComparison.Ordinal);
            Assert.Contains("not yours to decide", await scene.DecideAsync(other, "Confirm", scene.Ticked), StringComparison.Ordinal);
        }

        var screener = await SignedIn.AsAsync(scene.Bed, Role.Screener, scene.Bed.Harbour);
        Assert.True(IsDenied(await screener.GetAsync("/claims", IntakeBed.Ct)));
        Assert.Equal("rescreen", await scene.DueAsync());
        var own = await SignedIn.AsAsync(scene.Bed, Role.SiteManager, scene.Bed.Harbour);
        await scene.DecideAsync(own, "Confirm", scene.Ticked);
        Assert.Equal("none", await scene.DueAsync());
    }

    [Fact]
    public async Task A_transfer_by_who_cares_for_the_infant_lets_the_reports_through_and_a_claimants_own_does_not()
    {
        await using var scene = await ReferredAsync();
        await scene.Bed.SendAsync(Passes, scene.Stranger);
        await scene.Bed.SendAsync(Header + "transfer,,BS-1,2026-11-01,,,Marlow,,,,,,,,stranger,2026-11-09\n", scene.Stranger);
        Assert.Equal(3, (await scene.WaitAsync()).Count(r => r == "awaits_confirmation"));
        Assert.Equal("rescreen", await scene.DueAsync());

        await scene.Bed.SendAsync(Header + "transfer,H1,,,,,,,,,,,,,stranger,2026-11-09\n");
        Assert.Empty(await scene.WaitAsync());
        Assert.Equal("none", await scene.DueAsync());
    }

    [Fact]
    public async Task An_agreement_hands_on_those_who_are_due_and_no_others()
    {
        await using var scene = await ReferredAsync();
        await scene.Bed.SendAsync(Header + "birth,H2,BS-2,2026-11-01,male,Bea,Quist,1994-04-05,,,,,,,,\n"
            + "screening,H2,,,,,,,,,right,pass,oae,2026-11-02T10:15,,\nscreening,H2,,,,,,,,,left,pass,oae,2026-11-02T10:20,,\n");
        await scene.Bed.AgreeAsync(scene.Bed.Harbour, scene.Stranger, AgreementCovers.Referred);
        Assert.Equal(["accepted", "accepted"], await scene.Bed.OutcomesAsync(await scene.Bed.SendAsync(Passes, scene.Stranger)));
        Assert.Equal(["held awaits_confirmation"], await scene.Bed.OutcomesAsync(await scene.Bed.SendAsync(
            Header + "screening,,BS-2,2026-11-01,,,Quist,,,,left,refer,aabr,2026-11-10T10:20,,\n", scene.Stranger)));

        // A card alone is not enough for an agreement either.
        Assert.Equal(["held no_such_infant"], await scene.Bed.OutcomesAsync(await scene.Bed.SendAsync(
            Header + "screening,,BS-2,,,,,,,,left,refer,aabr,2026-11-11T10:20,,\n", scene.Stranger)));
    }

    [Fact]
    public async Task A_coordinator_states_and_ends_an_agreement_and_what_waited_for_it_is_applied()
    {
        await using var scene = await ReferredAsync();
        await scene.Bed.SendAsync(Passes, scene.Stranger);
        var coordinator = await SignedIn.AsAsync(scene.Bed, Role.Coordinator, null);
        const string Page = "/claims/agreements";
        var said = await SaidAsync(coordinator, await PostAsync(coordinator, Page, null, null,
            ("From", "harbour"), ("To", "stranger"), ("Covers", "referred")));
        Assert.Contains("The agreement is recorded", said, StringComparison.Ordinal);
        await scene.Bed.App.Services.GetRequiredService<RetryHeldRows>().ForAllAsync(IntakeBed.Ct);
        Assert.Equal("none", await scene.DueAsync());

        var id = (await scene.Bed.ListAsync("select id from care_agreements where to_site_id = $1", scene.Stranger.Value))[0];
        said = await SaidAsync(coordinator, await PostAsync(coordinator, Page, "End", null, ("id", id)));
        Assert.Contains("ends today", said, StringComparison.Ordinal);
        Assert.Equal(1, await scene.Bed.CountAsync("care_agreements where ended_by is not null and until_on is not null"));
        Assert.True(IsDenied(await (await SignedIn.AsAsync(scene.Bed, Role.SiteManager, scene.Bed.Harbour)).GetAsync(Page, IntakeBed.Ct)));
    }
}
