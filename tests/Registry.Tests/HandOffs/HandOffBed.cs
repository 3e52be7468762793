using System.Net;
using Registry.Records;
using Registry.Tests.FollowUp;
using Registry.Tests.Intake;

namespace Registry.Tests.HandOffs;

/// <summary>The families of the work list, a clinic and an early-intervention program that have nothing to do with them, and short ways to
/// hand an infant on. The program's today is 25 November 2026.</summary>
internal sealed class HandOffBed(IntakeBed bed) : IAsyncDisposable
{
    public IntakeBed Bed => bed;
    public SiteId Clinic { get; private init; }
    public SiteId Program { get; private init; }

    public static async Task<HandOffBed> StartAsync(TestDatabase database, bool listen = false,
        IReadOnlyDictionary<string, string?>? settings = null)
    {
        var bed = settings is null ? await WorkBed.StartAsync(database, listen) : await IntakeBed.StartAsync(database, settings, listen);
        if (settings is not null) await WorkBed.SendAsync(bed, WorkBed.Family("W-1", "2026-10-10", "Marlow"));
        return new(bed)
        {
            Clinic = await bed.AddSiteAsync("cove", SiteKind.AudiologyClinic),
            Program = await bed.AddSiteAsync("first-steps", SiteKind.InterventionProgram),
        };
    }

    public static Task<HttpResponseMessage> SendAsync(HttpClient client, string infant, string kind, string to,
        params (string, string)[] more) => SignedIn.SendFormAsync(client, $"/infants/{infant}/hand-offs",
        [
            ("Kind", kind), (kind is "clinic" or "intervention_program" ? "ToSite" : "ToName", to),
            ("Step", kind == "intervention_program" ? "intervention" : "diagnosis"), .. more,
            .. more.Any(m => m.Item1 == "Key") ? [] : new[] { ("Key", Guid.NewGuid().ToString()) },
        ]);

    /// <summary>An infant handed on, and the hand-off's id.</summary>
    public async Task<(string Infant, string HandOff)> HandedAsync(
        HttpClient client, string number, string kind, string to, params (string, string)[] more)
    {
        var infant = await WorkBed.IdAsync(bed, number);
        using var sent = await SendAsync(client, infant, kind, to, more);
        Assert.Equal($"/infants/{infant}/hand-offs", sent.Headers.Location?.OriginalString);
        return (infant, (await bed.ListAsync($"select id from hand_offs where infant_id = '{infant}' order by id desc limit 1"))[0]);
    }

    /// <summary>What somebody says of a hand-off on a page.</summary>
    public static Task<HttpResponseMessage> SayAsync(
        HttpClient client, string page, string handOff, string act, params (string, string)[] more) =>
        SignedIn.SendFormAsync(client, $"{page}?handler=Answer", [("handOff", handOff), ("act", act), .. more]);

    /// <summary>What a page says of itself: without its frame, whose caution names a refer, and its token.</summary>
    public static string Said(string page)
    {
        page = WebUtility.HtmlDecode(SignedIn.Plain(page));
        var from = page.IndexOf("<main", StringComparison.Ordinal);
        return page[from..page.IndexOf("</main>", from, StringComparison.Ordinal)];
    }

    public async Task<bool> SeesAsync(HttpClient client, string infant)
    {
        using var answer = await client.GetAsync($"/infants/{infant}", IntakeBed.Ct);
        Assert.True(answer.StatusCode is HttpStatusCode.OK or HttpStatusCode.NotFound);
        return answer.StatusCode == HttpStatusCode.OK;
    }

    public async Task<string> StateAsync(string handOff) => (await bed.ListAsync($"select state from hand_offs where id = '{handOff}'"))[0];

    public ValueTask DisposeAsync() => bed.DisposeAsync();
}
