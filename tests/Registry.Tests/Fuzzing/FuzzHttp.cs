using System.Net.Http.Headers;
using Registry.Records;

namespace Registry.Tests.Fuzzing;

/// <summary>Mutated files and messages sent to the program as a site sends them: whatever they hold, no answer is a fault of ours
/// (5xx).</summary>
internal static class FuzzHttp
{
    /// <param name="client">Signed in with a site's key.</param>
    /// <param name="cases">The inputs.</param>
    /// <param name="numbers">Which of them.</param>
    /// <param name="ct">Stops between two.</param>
    /// <returns>How many were answered with which status, and the first fault.</returns>
    public static async Task<(IReadOnlyDictionary<int, int> Answers, string? Failure)> RunAsync(
        HttpClient client, FuzzCases cases, IEnumerable<int> numbers, CancellationToken ct)
    {
        var answers = new SortedDictionary<int, int>();
        foreach (var n in numbers)
        {
            var one = cases.Case(n);
            using var content = new ByteArrayContent(one.Bytes);
            content.Headers.ContentType = MediaTypeHeaderValue.Parse(one.MediaType);
            if (one.Gzip) content.Headers.ContentEncoding.Add("gzip");
            var path = one.Format == SubmissionFormat.Fhir ? "/fhir" : "/api/v1/submissions";
            using var answer = await client.PostAsync(path + (n % 5 == 0 ? "?dry_run=true" : ""), content, ct);
            var status = (int)answer.StatusCode;
            answers[status] = answers.GetValueOrDefault(status) + 1;
            if (status >= 500)
                return (answers, $"case {n} ({one.Format}{(one.Gzip ? ", gzip" : "")}): {status} "
                    + $"{await answer.Content.ReadAsStringAsync(ct)}\n{Convert.ToBase64String(one.Bytes)}");
        }

        return (answers, null);
    }
}
