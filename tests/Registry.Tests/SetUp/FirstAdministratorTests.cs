using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Registry.Records;
using Registry.SetUp;
using Registry.Tests.Intake;

namespace Registry.Tests.SetUp;

/// <summary>The link a first start prints: whom it lets in, and everybody it does not.</summary>
public sealed class FirstAdministratorTests(TestDatabase database)
{
    private static readonly Dictionary<string, string?> Settings = new() { ["Access:AllowHttp"] = "true" };

    [Fact]
    public async Task It_makes_one_administrator_and_only_its_hash_is_kept()
    {
        await using var app = await RegistryApp.StartAsync(database, settings: Settings);
        var token = await LinkAsync(app);
        Assert.Empty(await ListAsync(app, $"select 1 from one_time_links where one_time_links::text like '%{token}%'"));
        using var client = Stranger(app);
        using var answer = await SendAsync(client, token);
        Assert.Equal("/setup", answer.Headers.Location!.OriginalString);
        Assert.Equal(["administrator"], await ListAsync(app, "select role from people"));
        Assert.Equal(HttpStatusCode.OK, (await client.GetAsync("/setup", IntakeBed.Ct)).StatusCode);
    }

    [Fact]
    public async Task A_guessed_a_used_and_an_expired_link_are_answered_alike_and_make_nobody()
    {
        await using var app = await RegistryApp.StartAsync(database, settings: Settings);
        var (used, expired) = (await LinkAsync(app), await LinkAsync(app));
        await ListAsync(app, "update one_time_links set ends_at = now() where made_at = (select max(made_at) from one_time_links) returning 1");
        using var client = Stranger(app);
        var said = new List<string>();
        foreach (var token in new[] { "guessed", new string('A', 43), expired }) said.Add(await RefusedAsync(client, token));
        using (var first = await SendAsync(client, used)) Assert.Equal(HttpStatusCode.Redirect, first.StatusCode);
        using var other = Stranger(app);
        said.Add(await RefusedAsync(other, used));
        Assert.Single(said.Distinct());
        Assert.Single(await ListAsync(app, "select 1 from people"));
    }

    [Fact]
    public async Task Of_browsers_at_once_with_one_link_or_two_one_becomes_the_administrator()
    {
        await using var app = await RegistryApp.StartAsync(database, settings: Settings);
        var links = new[] { await LinkAsync(app), await LinkAsync(app) };
        var answers = await Task.WhenAll(Enumerable.Range(0, 8).Select(async i =>
        {
            using var client = Stranger(app);
            using var answer = await SendAsync(client, links[i % 2], $"person{i}@lindmere.example");
            return answer.StatusCode;
        }));
        Assert.Single(answers, a => a == HttpStatusCode.Redirect);
        Assert.Single(await ListAsync(app, "select 1 from people"));
    }

    [Fact]
    public async Task A_password_that_is_refused_leaves_the_link_and_opening_it_changes_nothing()
    {
        await using var app = await RegistryApp.StartAsync(database, settings: Settings);
        var token = await LinkAsync(app);
        using var client = Stranger(app);
        await client.GetStringAsync($"/setup/link/{token}", IntakeBed.Ct);
        using (var weak = await SendAsync(client, token, password: "password1234"))
            Assert.Contains("easily guessed", await weak.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Empty(await ListAsync(app, "select 1 from people"));
        using var good = await SendAsync(client, token);
        Assert.Equal(HttpStatusCode.Redirect, good.StatusCode);
    }

    [Fact]
    public async Task A_new_link_replaces_those_before_and_none_is_made_once_somebody_administers()
    {
        await using var app = await RegistryApp.StartAsync(database, settings: Settings);
        var before = await LinkAsync(app);
        var token = await LinkAsync(app, replacing: true);
        using var client = Stranger(app);
        await RefusedAsync(client, before);
        using (var made = await SendAsync(client, token)) Assert.Equal(HttpStatusCode.Redirect, made.StatusCode);
        await using var scope = app.Services.CreateAsyncScope();
        Assert.Null(await scope.ServiceProvider.GetRequiredService<AddFirstAdministrator>().MakeLinkAsync(true, IntakeBed.Ct));
    }

    [Theory]
    [InlineData("/setup")]
    [InlineData("/setup/program")]
    [InlineData("/setup/policy")]
    [InlineData("/setup/mail")]
    [InlineData("/places")]
    [InlineData("/places/edit")]
    [InlineData("/places/file")]
    public async Task The_pages_of_the_set_up_are_an_administrators_before_and_after(string page)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var stranger = SignedIn.Nobody(bed);
        using var asked = await stranger.GetAsync(page, IntakeBed.Ct);
        Assert.Equal("/sign-in", asked.Headers.Location!.AbsolutePath);
        foreach (var role in new[] { Role.Coordinator, Role.Auditor })
        {
            using var client = await SignedIn.AsAsync(bed, role, null);
            using var denied = await client.GetAsync(page, IntakeBed.Ct);
            Assert.Equal("/denied", denied.Headers.Location!.AbsolutePath);
        }
    }

    private static async Task<string> RefusedAsync(HttpClient client, string token)
    {
        using var shown = await client.GetAsync($"/setup/link/{token}", IntakeBed.Ct);
        using var sent = await SendAsync(client, token);
        Assert.Equal((HttpStatusCode.NotFound, HttpStatusCode.NotFound), (shown.StatusCode, sent.StatusCode));
        var text = await sent.Content.ReadAsStringAsync(IntakeBed.Ct);
        return text[text.IndexOf("<main", StringComparison.Ordinal)..];
    }

    private static async Task<HttpResponseMessage> SendAsync(HttpClient client, string token, string email = "ada@lindmere.example",
        string password = IntakeBed.Password)
    {
        using var form = new FormUrlEncodedContent(
        [
            new("Name", "Ada Millbrook"), new("Email", email), new("Password", password),
            new("__RequestVerificationToken", await SignedIn.TokenAsync(client, "/sign-in")),
        ]);
        return await client.PostAsync($"/setup/link/{token}", form, IntakeBed.Ct);
    }

    private static HttpClient Stranger(RegistryApp app) => app.CreateClient(new() { AllowAutoRedirect = false });

    private static async Task<string> LinkAsync(RegistryApp app, bool replacing = false)
    {
        await using var scope = app.Services.CreateAsyncScope();
        return (await scope.ServiceProvider.GetRequiredService<AddFirstAdministrator>().MakeLinkAsync(replacing, IntakeBed.Ct))!;
    }

    private static async Task<List<string>> ListAsync(RegistryApp app, string sql)
    {
        var list = new List<string>();
        await using var command = app.Source.CreateCommand(sql);
        await using var reader = await command.ExecuteReaderAsync(IntakeBed.Ct);
        while (await reader.ReadAsync(IntakeBed.Ct)) list.Add(reader.GetValue(0).ToString()!);
        return list;
    }
}
