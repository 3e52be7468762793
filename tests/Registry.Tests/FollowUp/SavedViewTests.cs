using System.Net;
using Registry.Records;
using Registry.Tests.HandOffs;
using Registry.Tests.Intake;

namespace Registry.Tests.FollowUp;

/// <summary>Filters of the work list under a name: own, shared with the office, the one the list opens with.</summary>
public sealed class SavedViewTests(TestDatabase database)
{
    [Fact]
    public async Task A_filter_is_saved_opened_shared_renamed_and_discarded()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        Assert.Contains("No view is saved", await coordinator.GetStringAsync("/follow-up/views", IntakeBed.Ct), StringComparison.Ordinal);
        var id = await SaveAsync(bed, coordinator, "tray=call_today&step=diagnosis&phone=true", "Diagnosis, by phone");
        Assert.Equal(["tray=call_today&step=diagnosis&phone=true"], await bed.ListAsync("select filter from saved_views"));
        using (var opened = await coordinator.GetAsync($"/follow-up?view={id}", IntakeBed.Ct))
            Assert.Equal($"/follow-up?tray=call_today&step=diagnosis&phone=true&view={id}", opened.Headers.Location?.OriginalString);
        Assert.Contains("Diagnosis, by phone", await coordinator.GetStringAsync("/follow-up", IntakeBed.Ct), StringComparison.Ordinal);

        // Another's, until it is shared with the office; the program's office is one, a site another.
        foreach (var client in new[] { worker, manager })
        {
            var list = HandOffBed.Said(await client.GetStringAsync("/follow-up", IntakeBed.Ct));
            Assert.DoesNotContain("by phone", list, StringComparison.Ordinal);
            using var opened = await client.GetAsync($"/follow-up?view={id}", IntakeBed.Ct);
            Assert.Equal(HttpStatusCode.OK, opened.StatusCode);
        }

        await SayAsync(coordinator, "Rename", HttpStatusCode.Redirect, ("view", id), ("name", "Phones"), ("shared", "true"));
        Assert.Contains(">Phones<", await worker.GetStringAsync("/follow-up", IntakeBed.Ct), StringComparison.Ordinal);
        Assert.DoesNotContain(">Phones<", await manager.GetStringAsync("/follow-up", IntakeBed.Ct), StringComparison.Ordinal);

        // The list opens with it, for who says so; a filter that is asked for is not replaced.
        await SayAsync(worker, "Default", HttpStatusCode.Redirect, ("view", id));
        using (var opened = await worker.GetAsync("/follow-up", IntakeBed.Ct))
            Assert.Equal($"/follow-up?tray=call_today&step=diagnosis&phone=true&view={id}", opened.Headers.Location?.OriginalString);
        using (var asked = await worker.GetAsync("/follow-up?tray=monitoring", IntakeBed.Ct))
            Assert.Equal(HttpStatusCode.OK, asked.StatusCode);
        using (var asked = await coordinator.GetAsync("/follow-up", IntakeBed.Ct)) Assert.Equal(HttpStatusCode.OK, asked.StatusCode);
        await SayAsync(worker, "Default", HttpStatusCode.Redirect, ("view", ""));
        using (var opened = await worker.GetAsync("/follow-up", IntakeBed.Ct)) Assert.Equal(HttpStatusCode.OK, opened.StatusCode);
        await SayAsync(worker, "Default", HttpStatusCode.Redirect, ("view", id));
        await SayAsync(coordinator, "Discard", HttpStatusCode.Redirect, ("view", id));
        Assert.Equal((0, 0), (await bed.CountAsync("saved_views"), await bed.CountAsync("default_views")));
        using (var opened = await worker.GetAsync("/follow-up", IntakeBed.Ct)) Assert.Equal(HttpStatusCode.OK, opened.StatusCode);
    }

    [Fact]
    public async Task Nobody_changes_anothers_view_and_what_is_no_code_is_not_kept()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var id = await SaveAsync(bed, coordinator, "tray=everything&step=1;drop&owner=ada&phone=perhaps&infant=7&name=Marlow", "Mine", shared: true);
        Assert.Equal(["tray=call_today"], await bed.ListAsync("select filter from saved_views"));
        foreach (var client in new[] { worker, manager })
            foreach (var handler in new[] { "Rename", "Discard" })
                await SayAsync(client, handler, HttpStatusCode.NotFound, ("view", id), ("name", "Taken"));
        await SayAsync(manager, "Default", HttpStatusCode.NotFound, ("view", id)); // of another office
        await SayAsync(worker, "Default", HttpStatusCode.NotFound, ("view", Guid.NewGuid().ToString()));
        foreach (var name in new[] { "", "  ", new string('a', 61) })
            await SayAsync(coordinator, "Rename", HttpStatusCode.Redirect, ("view", id), ("name", name));
        Assert.Equal(["Mine"], await bed.ListAsync("select name from saved_views"));
        // A shared view shows each what they may see.
        using var nowhere = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Nowhere");
        Assert.Empty(await WorkBed.ShownAsync(nowhere, "?tray=call_today"));
        foreach (var verb in new[] { HttpMethod.Put, HttpMethod.Delete, HttpMethod.Patch })
        {
            using var request = new HttpRequestMessage(verb, "/follow-up/views?handler=Discard");
            using var said = await coordinator.SendAsync(request, IntakeBed.Ct);
            Assert.False(said.IsSuccessStatusCode);
        }

        await bed.ListAsync("update sessions set ended_at = now() returning 1");
        using var seen = await coordinator.GetAsync("/follow-up/views", IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.Redirect, seen.StatusCode);
    }

    private static async Task<string> SaveAsync(IntakeBed bed, HttpClient client, string filter, string name, bool shared = false)
    {
        using var saved = await SignedIn.SendFormAsync(
            client, $"/follow-up/views?{filter}", ("name", name), ("shared", shared ? "true" : "false"));
        var id = (await bed.ListAsync("select id from saved_views order by saved_at desc limit 1"))[0];
        Assert.EndsWith($"&view={id}", saved.Headers.Location!.OriginalString, StringComparison.Ordinal);
        Assert.DoesNotContain(Uri.EscapeDataString(name), saved.Headers.Location.OriginalString, StringComparison.Ordinal);
        return id;
    }

    private static async Task SayAsync(HttpClient client, string handler, HttpStatusCode expected, params (string, string)[] fields)
    {
        using var answer = await SignedIn.SendFormAsync(client, $"/follow-up/views?handler={handler}", fields);
        Assert.Equal(expected, answer.StatusCode);
    }
}
