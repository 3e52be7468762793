using System.Net;

namespace Registry.Tests.Intake.HeldRows;

/// <summary>Rows to send, and short ways to post the forms of the pages about them and read what they say.</summary>
internal static class WaitingRowsForms
{
    public const string Header = "kind,record_number,birth_date,sex,mother_family_name,ear,outcome,method,performed_at\n";

    public static string Births(int n) =>
        string.Concat(Enumerable.Range(1, n).Select(i => $"birth,A{i},2026-11-01,female,Marlow{i},,,,\n"));

    public static string Screens(int n, string method) => string.Concat(
        Enumerable.Range(1, n).Select(i => $"screening,A{i},,,,right,pass,{method},2026-11-02T09:15\n"));

    public static async Task<string> PageAsync(HttpResponseMessage answer)
    {
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        return WebUtility.HtmlDecode(await answer.Content.ReadAsStringAsync(IntakeBed.Ct));
    }

    public static string HiddenOf(string page, string name) => page.Split($"name=\"{name}\" value=\"")[1].Split('"')[0];

    /// <param name="from">The page whose form it is; null: the one posted to.</param>
    public static async Task<HttpResponseMessage> PostAsync(
        HttpClient client, string path, string? handler, string? from = null, params (string Name, string Value)[] fields)
    {
        var token = await SignedIn.TokenAsync(client, from ?? path);
        using var content = new FormUrlEncodedContent(
            fields.Append((Name: "__RequestVerificationToken", Value: token))
                .Select(f => new KeyValuePair<string, string>(f.Name, f.Value)));
        return await client.PostAsync(handler is null ? path : $"{path}?handler={handler}", content, IntakeBed.Ct);
    }

    public static bool IsDenied(HttpResponseMessage answer) =>
        answer.StatusCode == HttpStatusCode.Forbidden || answer.Headers.Location?.OriginalString.Contains(
            "/denied", StringComparison.Ordinal) == true;

    /// <summary>The page an answer leads to.</summary>
    public static async Task<string> SaidAsync(HttpClient client, HttpResponseMessage answer)
    {
        Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
        return await client.GetStringAsync(answer.Headers.Location, IntakeBed.Ct);
    }
}
