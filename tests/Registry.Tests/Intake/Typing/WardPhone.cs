using Microsoft.Playwright;
using Registry.Records;
using Registry.Tests.Browser;

namespace Registry.Tests.Intake.Typing;

/// <summary>A phone on the ward: the list open in a browser of its own, results entered by tapping, the connection lost and back.</summary>
internal sealed class WardPhone(IntakeBed bed, IPage page)
{
    /// <summary>The phone's database, and all of one of its stores.</summary>
    private const string Database =
        """
        const done = asked => new Promise(answer => { asked.onsuccess = () => answer(asked.result); });
        const database = await done(indexedDB.open("registry-ward"));
        const all = store => done(database.transaction(store).objectStore(store).getAll());
        """;

    public IPage Page { get; } = page;

    /// <summary>How often the screen was touched.</summary>
    public int Taps { get; private set; }

    /// <summary>Signs in, and waits until the phone has its key.</summary>
    public static async Task<WardPhone> OpenAsync(Chromium chromium, IntakeBed bed, Person person, bool phone = true)
    {
        var opened = new WardPhone(bed, await SignedIn.OpenAsync(chromium, bed.App, person.Email!, phone: phone));
        await opened.IsReadyAsync();
        return opened;
    }

    /// <summary>The key is here, the list is kept, and the empty frame is there for a reload.</summary>
    public async Task IsReadyAsync()
    {
        await Page.ArriveAsync("*/ward");
        await Eventually.HoldsAsync(() => AsksAsync(
            $$"""
            async () => {
              if (!(await indexedDB.databases()).some(d => d.name === "registry-ward")) return false;
              {{Database}}
              const list = (await all("kept")).find(k => k.id === "list");
              database.close();
              return !!list && !!(await caches.match("/ward/offline"))
                && !!(await navigator.serviceWorker.getRegistration("/ward"))?.active;
            }
            """));
    }

    /// <summary>Asks the page; one that is being replaced by another says no, and is asked again.</summary>
    private async Task<bool> AsksAsync(string question)
    {
        try
        {
            return await Page.EvaluateAsync<bool>(question);
        }
        catch (PlaywrightException e) when (e.Message.Contains("Execution context was destroyed", StringComparison.Ordinal))
        {
            return false;
        }
    }

    public Task LoseConnectionAsync() => Page.Context.SetOfflineAsync(true);

    public Task ConnectAsync() => Page.Context.SetOfflineAsync(false);

    /// <summary>Both ears of an infant, in the form in place.</summary>
    public async Task EnterAsync(string mother, string right, string left, string? day = null, string? time = null)
    {
        await TapAsync(Row(mother).GetByRole(AriaRole.Link, new() { Name = "Enter" }));
        await TapAsync(Ear("Right ear").GetByLabel(right, new() { Exact = true }));
        await TapAsync(Ear("Left ear").GetByLabel(left, new() { Exact = true }));
        if (day is not null) await Page.Locator("dialog #typed-day").FillAsync(day);
        if (time is not null) await Page.Locator("dialog #typed-time").FillAsync(time);
        await TapAsync(Page.Locator("dialog").GetByRole(AriaRole.Button, new() { Name = "Save" }));
    }

    public ILocator Row(string mother) => Page.Locator(".ward li", new() { HasText = mother });

    public ILocator Ear(string ear) => Page.Locator("dialog fieldset").Filter(new() { HasText = ear });

    /// <summary>What the phone says of what it keeps.</summary>
    public Task SaysAsync(string words) => Eventually.HoldsAsync(
        async () => (await Page.Locator("[data-kept]").InnerTextAsync()).Contains(words, StringComparison.Ordinal),
        () => Page.Locator("[data-kept]").InnerTextAsync().Result);

    /// <summary>Everything in the browser's database and caches, as bytes a stranger would read.</summary>
    public Task<string> StoredAsync() => Page.EvaluateAsync<string>(
        $$"""
        async () => {
          {{Database}}
          const isBytes = v => v instanceof ArrayBuffer || v instanceof Uint8Array;
          const stored = JSON.stringify([await all("locks"), await all("kept")],
            (_, v) => isBytes(v) ? new TextDecoder("latin1").decode(v) : v);
          database.close();
          const cache = await caches.open("ward");
          const pages = await Promise.all((await cache.keys()).map(async k => k.url + (await (await cache.match(k)).text())));
          return stored + JSON.stringify({ ...localStorage }) + JSON.stringify({ ...sessionStorage }) + pages.join();
        }
        """);

    /// <summary>Does something to what is kept, as somebody with the phone and its tools would.</summary>
    /// <param name="act">A function of the entries and of what writes one.</param>
    public Task TamperAsync(string act) => Page.EvaluateAsync(
        $$"""
        async () => {
          {{Database}}
          const store = () => database.transaction("kept", "readwrite").objectStore("kept");
          const entries = (await all("kept")).filter(k => k.id !== "list");
          const put = value => done(store().put(value));
          await ({{act}})(entries, put);
          database.close();
        }
        """);

    /// <summary>Whether the key of a sign-in is still on the phone, and whether it can be read out.</summary>
    public Task<string[]> KeysAsync() => Page.EvaluateAsync<string[]>(
        $$"""
        async () => {
          {{Database}}
          const locks = await all("locks");
          database.close();
          return Promise.all(locks.filter(l => l.key).map(l => crypto.subtle.exportKey("raw", l.key).then(() => "readable", () => "not readable")));
        }
        """);

    /// <summary>The results the registry has of an infant: ear, outcome, who tested.</summary>
    public Task<List<string>> ResultsAsync(string number) => bed.ListAsync(
        "select concat_ws(' ', s.ear, s.outcome, nullif(s.reason, 'none')) from screenings s join infant_identifiers i using (infant_id) "
            + "where i.value = $1 and s.superseded_at is null order by s.ear desc, s.outcome", number);

    private async Task TapAsync(ILocator what)
    {
        Taps++;
        await what.ClickAsync();
    }
}
