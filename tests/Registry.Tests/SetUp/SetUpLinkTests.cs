using System.Diagnostics;
using System.Net;
using Registry.Tests.Intake;
using Registry.Tests.Platform;

namespace Registry.Tests.SetUp;

/// <summary>The verb <c>setup link</c>, run as people run it: beside the program, on its database.</summary>
public sealed class SetUpLinkTests : IAsyncDisposable
{
    private readonly ProgramFolder _folder = new();

    public ValueTask DisposeAsync() => _folder.DisposeAsync();

    [Fact]
    public async Task It_prints_one_new_link_the_old_one_stops_and_once_somebody_administers_it_refuses()
    {
        using var program = await ProgramProcess.StartAsync(_folder, IntakeBed.Ct);
        using var client = new HttpClient { BaseAddress = new(program.Address), Timeout = Eventually.Patience };
        var first = PathOf(program.Said);
        Assert.Equal(HttpStatusCode.OK, await OpenAsync(client, first));

        var (code, said) = await RunAsync("https://registry.lindmere.example");
        Assert.True(code == 0, said);
        var second = PathOf(said.Split('\n'));
        Assert.NotEqual(first, second);
        Assert.Contains("https://registry.lindmere.example/setup/link/", said, StringComparison.Ordinal);
        Assert.Equal((HttpStatusCode.NotFound, HttpStatusCode.OK), (await OpenAsync(client, first), await OpenAsync(client, second)));
        Assert.DoesNotContain(second.Split('/')[^1], await ProgramProcess.AskAsync<string>(
            _folder, "select string_agg(l::text, ' ') from one_time_links l", IntakeBed.Ct), StringComparison.Ordinal);

        // Where no address is set that people reach it by, it is the one it listens on.
        (code, said) = await RunAsync("");
        Assert.Contains("http://127.0.0.1:5181/setup/link/", said, StringComparison.Ordinal);
        second = PathOf(said.Split('\n'));
        using var form = new FormUrlEncodedContent(
        [
            new("Name", "Ada Millbrook"), new("Email", "ada@lindmere.example"), new("Password", IntakeBed.Password),
            new("__RequestVerificationToken", await SignedIn.TokenAsync(client, second)),
        ]);
        using (var made = await client.PostAsync(second, form, IntakeBed.Ct)) Assert.Equal(HttpStatusCode.OK, made.StatusCode); // followed
        Assert.Equal("administrator", await ProgramProcess.AskAsync<string>(_folder, "select role from people", IntakeBed.Ct));

        (code, said) = await RunAsync("");
        Assert.Equal(2, code);
        Assert.Contains("Somebody administers this registry already", said, StringComparison.Ordinal);
        Assert.DoesNotContain("/setup/link/", said, StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.NotFound, await OpenAsync(client, second));
    }

    [Fact]
    public async Task On_a_database_without_tables_it_says_what_to_do()
    {
        var (code, said) = await RunAsync("");
        Assert.Equal(2, code);
        Assert.Contains("run the verb migrate first", said, StringComparison.Ordinal);
        Assert.DoesNotContain("Unhandled", said, StringComparison.Ordinal);
    }

    private static string PathOf(IEnumerable<string> said)
    {
        var line = Assert.Single(said, l => l.Contains("/setup/link/", StringComparison.Ordinal));
        return new Uri(line.Split(' ').Single(w => w.StartsWith("http", StringComparison.Ordinal))).AbsolutePath;
    }

    private static async Task<HttpStatusCode> OpenAsync(HttpClient client, string path)
    {
        using var answer = await client.GetAsync(path, IntakeBed.Ct);
        return answer.StatusCode;
    }

    private async Task<(int Code, string Said)> RunAsync(string publicUrl)
    {
        var start = new ProcessStartInfo("dotnet", [typeof(Program).Assembly.Location, "setup", "link"])
        {
            RedirectStandardError = true,
            RedirectStandardOutput = true,
        };
        start.Environment["Database__Embedded__DataFolder"] = _folder;
        start.Environment["Demo__Enabled"] = "false";
        start.Environment["ConnectionStrings__Registry"] = "";
        start.Environment["DOTNET_ENVIRONMENT"] = "Development";
        start.Environment["Urls"] = "http://127.0.0.1:5181";
        if (publicUrl.Length > 0) start.Environment["Outreach__PublicUrl"] = publicUrl;
        using var process = Process.Start(start)!;
        var output = process.StandardOutput.ReadToEndAsync(IntakeBed.Ct);
        var error = await process.StandardError.ReadToEndAsync(IntakeBed.Ct);
        await process.WaitForExitAsync(IntakeBed.Ct);
        return (process.ExitCode, await output + error);
    }
}
