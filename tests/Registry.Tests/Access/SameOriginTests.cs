using System.Net;
using System.Text;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>A page elsewhere makes a signed-in browser send something: it is refused; the registry's own pages and keys are not.</summary>
public sealed class SameOriginTests(TestDatabase database)
{
    [Theory]
    [InlineData("", "", HttpStatusCode.Forbidden)] // says nothing: no browser of today
    [InlineData("Origin", "https://evil.example", HttpStatusCode.Forbidden)]
    [InlineData("Origin", "null", HttpStatusCode.Forbidden)]
    [InlineData("Origin", "http://localhost.evil.example", HttpStatusCode.Forbidden)]
    [InlineData("Origin", "https://localhost", HttpStatusCode.Forbidden)] // another scheme is another origin
    [InlineData("Sec-Fetch-Site", "cross-site", HttpStatusCode.Forbidden)]
    [InlineData("Sec-Fetch-Site", "same-site", HttpStatusCode.Forbidden)]
    [InlineData("Sec-Fetch-Site", "none", HttpStatusCode.Forbidden)]
    [InlineData("Origin", "http://localhost", HttpStatusCode.OK)]
    [InlineData("Sec-Fetch-Site", "same-origin", HttpStatusCode.OK)]
    public async Task Rows_sent_with_a_cookie_come_from_the_own_pages(string header, string value, HttpStatusCode expected)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        foreach (var path in new[] { "/api/v1/submissions", "/fhir/Patient" })
        {
            using var request = new HttpRequestMessage(HttpMethod.Post, path);
            request.Content = path == "/fhir/Patient"
                ? new StringContent("{\"resourceType\":\"Patient\"}", Encoding.UTF8, "application/fhir+json")
                : new StringContent("kind,record_number,birth_date,sex\nbirth,71,2026-11-01,female\n", Encoding.UTF8, "text/csv");
            if (header.Length > 0) request.Headers.Add(header, value);
            using var answer = await client.SendAsync(request, IntakeBed.Ct);
            if (path == "/fhir/Patient") Assert.Equal(expected == HttpStatusCode.Forbidden, answer.StatusCode == HttpStatusCode.Forbidden);
            else Assert.Equal(expected, answer.StatusCode);
        }

        if (expected == HttpStatusCode.Forbidden) Assert.Equal(0, await bed.CountAsync("submissions"));
    }

    [Fact]
    public async Task A_form_sent_by_another_site_is_refused_even_with_its_token()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var form = new FormUrlEncodedContent([new("__RequestVerificationToken", await SignedIn.TokenAsync(client, "/access/own"))]);
        using var request = new HttpRequestMessage(HttpMethod.Post, "/access/own?handler=End") { Content = form };
        request.Headers.Add("Sec-Fetch-Site", "cross-site");
        using var answer = await client.SendAsync(request, IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.Forbidden, answer.StatusCode);
    }
}
