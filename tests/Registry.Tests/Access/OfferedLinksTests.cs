using System.Net;
using System.Text.RegularExpressions;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>Every role follows every link it is offered, from where it works on: each opens, and nobody is sent to a page that is not
/// theirs. What a role decides about is reached by links, and not by an address one has to know.</summary>
public sealed partial class OfferedLinksTests(TestDatabase database)
{
    private const string Rows = "kind,record_number,birth_date,sex,mother_family_name\nbirth,77,2026-08-01,female,Quist\n";

    public static TheoryData<Role> Roles => [.. Enum.GetValues<Role>()];

    [Theory]
    [MemberData(nameof(Roles))]
    public async Task Every_link_that_is_offered_opens(Role role)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        using var client = await SignedIn.AsAsync(bed, role, Permissions.NeedsSite(role) ? bed.Harbour : null);
        var (seen, waiting, refused) = (new HashSet<string>(), new Queue<string>([Permissions.HomeOf(role)]), new List<string>());
        while (waiting.TryDequeue(out var path))
        {
            // One record, one submission: the next looks like it.
            if (!seen.Add(Ids().Replace(path.Split('?', '#')[0], "{id}"))) continue;
            using var answer = await client.GetAsync(path, IntakeBed.Ct);
            // Who belongs to one site is led from the sites to that one.
            if (path == "/sites" && answer.Headers.Location?.OriginalString is { } own
                && own.StartsWith("/sites/", StringComparison.Ordinal))
            {
                waiting.Enqueue(own);
                continue;
            }

            if (answer.StatusCode != HttpStatusCode.OK) refused.Add($"{path} {answer.StatusCode} {answer.Headers.Location?.OriginalString}");
            if (answer.Content.Headers.ContentType?.MediaType != "text/html") continue;
            foreach (Match link in Links().Matches(await answer.Content.ReadAsStringAsync(IntakeBed.Ct)))
                waiting.Enqueue(WebUtility.HtmlDecode(link.Groups[1].Value));
        }

        Assert.True(refused.Count == 0, string.Join('\n', refused));
        if (role == Role.Coordinator)
            Assert.Subset(seen, new HashSet<string> { "/erasures", "/claims", "/claims/agreements", "/policy/new", "/reports/published" });
    }

    /// <summary>Of the registry's own pages; signing out would end the walk.</summary>
    [GeneratedRegex("<a [^>]*href=\"(/(?!sign-out|lib/|css/)[^\"]*)\"")]
    private static partial Regex Links();

    [GeneratedRegex("[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")]
    private static partial Regex Ids();
}
