using System.Globalization;
using System.Net;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Architecture;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>
/// Every endpoint asked by every kind of caller about an infant, a submission and a site of the harbour; what is answered is
/// docs/security/access-matrix.md. A new endpoint, or another answer, fails until it was looked at and written down
/// (REGISTRY_UPDATE_DOCS=1).
/// </summary>
public sealed class AccessMatrixTests(TestDatabase database)
{
    private const string Rows =
        """
        kind,record_number,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date,ear,outcome,method,performed_at,probe
        birth,HARBOUR-1,2026-09-01,female,Ada,Marlow,1995-02-03,,,,,
        screening,HARBOUR-1,,,,,,right,pass,aabr,2026-09-02T09:15,P9

        """;

    private static readonly string Committed = Path.Combine(SourceTree.Root, "docs/security/access-matrix.md");

    [Fact]
    public async Task Every_endpoint_answers_every_caller_as_written_down()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var callers = await CallersAsync(bed);
        var routes = await Routes.OfAsync(bed, await Routes.SamplesAsync(bed));
        var text = new StringBuilder(Head);
        text.Append("| endpoint | ").AppendJoin(" | ", callers.Select(c => c.Name)).Append(" |\n|---|");
        text.Insert(text.Length, "---|", callers.Count).Append('\n');
        foreach (var route in routes)
        {
            var cells = new List<string>();
            foreach (var (_, client) in callers) cells.Add(await AskAsync(client, route));
            text.Append(CultureInfo.InvariantCulture, $"| {route.Verb} `{route.Pattern}` | ").AppendJoin(" | ", cells).Append(" |\n");
        }

        if (Environment.GetEnvironmentVariable("REGISTRY_UPDATE_DOCS") == "1")
        {
            Directory.CreateDirectory(Path.GetDirectoryName(Committed)!);
            await File.WriteAllTextAsync(Committed, text.ToString(), IntakeBed.Ct);
        }

        Assert.Equal((await File.ReadAllTextAsync(Committed, IntakeBed.Ct)).ReplaceLineEndings("\n"), text.ToString());
    }

    private const string Head =
        """
        # Who reaches what

        Written by its test (`tests/Registry.Tests/Access/AccessMatrixTests.cs`), which asks every endpoint as every caller about an infant, a
        submission and a site of one hospital, the *own* site of some callers and the *other* of the rest. The table of permissions behind it is
        `src/Registry/Access/Permissions.cs`; which infants and sites somebody sees is `Visibility`'s.

        **yes** let in (a form without its token is refused only then) · **404** let in, and there is no such thing, or none of one's own ·
        **sign in** not without signing in or a key · **no** not with this role or key

        
        """;

    private static async Task<string> AskAsync(HttpClient client, Route route)
    {
        using var request = new HttpRequestMessage(new(route.Verb), route.Path);
        if (route.Verb == "POST") request.Content = new StringContent("");
        using var answer = await client.SendAsync(request, HttpCompletionOption.ResponseHeadersRead, IntakeBed.Ct);
        Assert.True((int)answer.StatusCode < 500, $"{route.Verb} {route.Path}: {answer.StatusCode}");
        return answer.StatusCode switch
        {
            HttpStatusCode.Unauthorized => "sign in",
            HttpStatusCode.Forbidden => "no",
            HttpStatusCode.NotFound => "404",
            HttpStatusCode.Redirect when Goes(answer, "/sign-in") => "sign in",
            HttpStatusCode.Redirect when Goes(answer, "/denied") => "no",
            _ => "yes",
        };
    }

    private static bool Goes(HttpResponseMessage answer, string to) =>
        (answer.Headers.Location!.IsAbsoluteUri ? answer.Headers.Location.AbsolutePath : answer.Headers.Location.OriginalString) == to;

    private static async Task<IReadOnlyList<(string Name, HttpClient Client)>> CallersAsync(IntakeBed bed)
    {
        var callers = new List<(string, HttpClient)> { ("nobody", SignedIn.Nobody(bed)) };
        foreach (var (name, role, site) in new (string, Role, SiteId?)[]
        {
            ("administrator", Role.Administrator, null), ("coordinator", Role.Coordinator, null), ("auditor", Role.Auditor, null),
            ("manager, own", Role.SiteManager, bed.Harbour), ("manager, other", Role.SiteManager, bed.Hill),
            ("screener, own", Role.Screener, bed.Harbour), ("screener, other", Role.Screener, bed.Hill),
            ("clinic, other", Role.AudiologyClinic, bed.Hill), ("intervention program, other", Role.InterventionProgram, bed.Hill),
            ("vital records, other", Role.VitalRecords, bed.Hill), ("case worker, other", Role.CaseWorker, null),
            ("epidemiologist", Role.Epidemiologist, null),
        })
        {
            var client = await SignedIn.AsAsync(bed, role, site);
            client.DefaultRequestHeaders.Add("Sec-Fetch-Site", "same-origin");
            callers.Add((name, client));
        }

        await using var scope = bed.App.Services.CreateAsyncScope();
        foreach (var (name, key, site) in new[]
        {
            ("key that sends, own", KeyScope.Send, bed.Harbour), ("key that reads, own", KeyScope.SendAndRead, bed.Harbour),
            ("key that reads, other", KeyScope.SendAndRead, bed.Hill), ("key that only reads, own", KeyScope.Read, bed.Harbour),
        })
        {
            var client = SignedIn.Nobody(bed);
            var (_, secret) = await scope.ServiceProvider.GetRequiredService<SiteKeys>().IssueAsync(site, name, key, null, IntakeBed.Ct);
            client.DefaultRequestHeaders.Authorization = new("Bearer", secret);
            callers.Add((name, client));
        }

        return callers;
    }
}
