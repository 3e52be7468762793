using System.Net;
using System.Net.Http.Headers;
using System.Text.Json.Nodes;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Records;

namespace Registry.Tests.Intake.Receiving;

/// <summary>Sends bytes to the program over HTTP with a site's key.</summary>
internal static class SentBytes
{
    public static async Task<HttpClient> ClientAsync(this IntakeBed bed, SiteId site)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        var (_, secret) = await scope.ServiceProvider.GetRequiredService<SiteKeys>().IssueAsync(site, "test", IntakeBed.Ct);
        var client = bed.App.CreateClient();
        client.DefaultRequestHeaders.Authorization = new("Bearer", secret);
        return client;
    }

    public static async Task<(HttpStatusCode Status, JsonNode Body, HttpResponseHeaders Headers)> SendAsync(
        this HttpClient client, byte[] bytes, string query = "", string type = "text/csv", string? coding = null)
    {
        using var content = new ByteArrayContent(bytes);
        content.Headers.ContentType = MediaTypeHeaderValue.Parse(type);
        if (coding is not null) content.Headers.ContentEncoding.Add(coding);
        using var response = await client.PostAsync("/api/v1/submissions" + query, content, IntakeBed.Ct);
        return (response.StatusCode, JsonNode.Parse(await response.Content.ReadAsStringAsync(IntakeBed.Ct))!, response.Headers);
    }

    /// <summary>The first reason of a refusal.</summary>
    public static string Reason(this JsonNode body) => body["errors"]![0]!["reason"]!.ToString();
}
