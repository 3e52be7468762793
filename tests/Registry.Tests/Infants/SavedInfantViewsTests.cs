using System.Net;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.WebUtilities;
using Registry.Infants.List;
using Registry.Records;
using Registry.Tests.HandOffs;
using Registry.Tests.Intake;

namespace Registry.Tests.Infants;

/// <summary>Filters of the list of infants under a name: as those of the work list, and apart from them.</summary>
public sealed class SavedInfantViewsTests(TestDatabase database)
{
    private const string Missed = "state=late&state=missed&milestone=screened&closed=true&from=2026-01-01&lostAt=diagnosis";

    [Fact]
    public async Task A_filter_is_saved_opened_renamed_made_the_first_and_discarded()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,Z1,2026-11-20,female\n");
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        Assert.Contains("No view is saved", await coordinator.GetStringAsync("/infants/views", IntakeBed.Ct), StringComparison.Ordinal);
        var id = await SaveAsync(bed, coordinator, Missed, "Missed this year");
        Assert.Equal([$"infants {Missed}"], await bed.ListAsync("select list || ' ' || filter from saved_views"));
        await OpensAsync(coordinator, $"/infants?view={id}", $"/infants?{Missed}&view={id}");
        await OpensAsync(coordinator, $"/infants?view={id}&asOf=2026-11-22", $"/infants?{Missed}&view={id}&asOf=2026-11-22");
        await OpensAsync(coordinator, "/infants", null);
        Assert.Contains("Missed this year", await coordinator.GetStringAsync("/infants", IntakeBed.Ct), StringComparison.Ordinal);
        var views = HandOffBed.Said(await coordinator.GetStringAsync("/infants/views", IntakeBed.Ct));
        Assert.Contains("born from 1 Jan 2026", views, StringComparison.Ordinal);

        // The two lists do not mix, nor do two people.
        Assert.DoesNotContain("Missed this", await coordinator.GetStringAsync("/follow-up", IntakeBed.Ct), StringComparison.Ordinal);
        Assert.DoesNotContain("Missed this", await worker.GetStringAsync("/infants", IntakeBed.Ct), StringComparison.Ordinal);
        await OpensAsync(worker, $"/infants?view={id}", null);

        // Opened with it, unless something is asked for; the work list opens as before.
        await SayAsync(coordinator, "/infants", "Default", HttpStatusCode.Redirect, ("view", id));
        await OpensAsync(coordinator, "/infants", $"/infants?{Missed}&view={id}");
        foreach (var asked in new[] { "/infants?sort=-born", "/infants?hearing=normal", "/infants?asOf=2026-11-22", "/follow-up" })
            await OpensAsync(coordinator, asked, null);
        var work = await SaveWorkAsync(bed, coordinator);
        await SayAsync(coordinator, "/follow-up", "Default", HttpStatusCode.Redirect, ("view", work));
        await OpensAsync(coordinator, "/infants", $"/infants?{Missed}&view={id}");
        await OpensAsync(coordinator, "/follow-up", $"/follow-up?tray=monitoring&view={work}");

        await SayAsync(coordinator, "/infants", "Rename", HttpStatusCode.Redirect, ("view", id), ("name", "Missed"), ("shared", "true"));
        await OpensAsync(worker, $"/infants?view={id}", $"/infants?{Missed}&view={id}");
        await SayAsync(coordinator, "/infants", "Discard", HttpStatusCode.Redirect, ("view", id));
        await OpensAsync(coordinator, "/infants", null);
        Assert.Equal([work], await bed.ListAsync("select view_id from default_views"));
    }

    [Fact]
    public async Task Nobody_changes_anothers_view_or_one_of_another_list_and_what_is_no_code_is_not_kept()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        const string noCodes = "hearing=ada&due=soon&from=yesterday&lostAt=1;drop&infant=7&name=Marlow";
        var id = await SaveAsync(bed, coordinator, noCodes, "Mine", "true");
        Assert.Equal([""], await bed.ListAsync("select filter from saved_views"));
        foreach (var client in new[] { worker, manager })
            foreach (var handler in new[] { "Rename", "Discard" })
                await SayAsync(client, "/infants", handler, HttpStatusCode.NotFound, ("view", id), ("name", "Taken"));
        await SayAsync(manager, "/infants", "Default", HttpStatusCode.NotFound, ("view", id)); // of another office
        foreach (var handler in new[] { "Rename", "Discard", "Default" }) // its owner, but the other list's page
            await SayAsync(coordinator, "/follow-up", handler, HttpStatusCode.NotFound, ("view", id), ("name", "Taken"));
        Assert.Equal(["Mine"], await bed.ListAsync("select name from saved_views"));
        using var auditor = await SignedIn.AsAsync(bed, Role.Auditor, null);
        using var denied = await auditor.GetAsync("/infants/views", IntakeBed.Ct);
        Assert.NotEqual(HttpStatusCode.OK, denied.StatusCode);
    }

    /// <summary>A filter written as an address and read again is the same, each of its parts.</summary>
    [Theory]
    [InlineData("")]
    [InlineData(Missed)]
    [InlineData("milestone=diagnosed&closed=false&to=2026-11-01&site=hill&responsible=harbour&county=Lind%20%26%20Mere")]
    [InlineData("screening=referred_one_ear&hearing=normal&step=diagnostic_evaluation&due=overdue&loss=any&certificate=true")]
    public void A_filter_survives_its_address(string query)
    {
        var read = InfantFilter.Read(new QueryCollection(QueryHelpers.ParseQuery(query)));
        Assert.Empty(read.Problems);
        Assert.Equal(query, read.ToQuery());
        Assert.Equal(query, InfantFilter.OfQuery(read.ToQuery()).ToQuery());
    }

    private static async Task OpensAsync(HttpClient client, string path, string? with)
    {
        using var answer = await client.GetAsync(path, IntakeBed.Ct);
        Assert.Equal(with, answer.Headers.Location?.OriginalString);
        if (with is null) Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
    }

    private static async Task<string> SaveAsync(IntakeBed bed, HttpClient client, string filter, string name, string shared = "false")
    {
        using var saved = await SignedIn.SendFormAsync(client, $"/infants/views?{filter}", ("name", name), ("shared", shared));
        var id = (await bed.ListAsync("select id from saved_views order by saved_at desc, id desc limit 1"))[0];
        Assert.EndsWith($"&view={id}", saved.Headers.Location!.OriginalString, StringComparison.Ordinal);
        return id;
    }

    private static async Task<string> SaveWorkAsync(IntakeBed bed, HttpClient client)
    {
        using var saved = await SignedIn.SendFormAsync(
            client, "/follow-up/views?tray=monitoring", ("name", "Watched"), ("shared", "false"));
        return (await bed.ListAsync("select id from saved_views where list = 'work'"))[0];
    }

    private static async Task SayAsync(
        HttpClient client, string list, string handler, HttpStatusCode expected, params (string, string)[] fields)
    {
        using var answer = await SignedIn.SendFormAsync(client, $"{list}/views?handler={handler}", fields);
        Assert.Equal(expected, answer.StatusCode);
    }
}
