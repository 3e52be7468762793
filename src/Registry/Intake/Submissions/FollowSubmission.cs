using System.Text;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Submissions;

/// <summary>Lets a sender follow its submission: the state, and row by row what became of it. Another site's submission is
/// answered as one that does not exist.</summary>
public static class FollowSubmission
{
    private const int PageRows = 1_000;
    private const string NotValid = "The request is not valid";

    /// <summary>Where a submission is followed.</summary>
    public static string Location(SubmissionId id) => $"/api/v1/submissions/{id}";

    public static async Task<IResult> StatusAsync(SubmissionId id, Viewer viewer, ReadSubmissions read, HttpContext http,
        CancellationToken ct)
    {
        if (await read.StatusAsync(id, ct) is not { } status || !viewer.MaySee(status.SiteId)) return NotFound();
        if (!status.IsFinished) http.Response.Headers.RetryAfter = "2";
        return Results.Ok(status);
    }

    public static async Task<IResult> RowsAsync(
        SubmissionId id, string? outcome, string? after, Viewer viewer, ReadSubmissions read, CancellationToken ct)
    {
        if (await read.StatusAsync(id, ct) is not { } status || !viewer.MaySee(status.SiteId)) return NotFound();
        var only = default(RowOutcome);
        if (outcome is not null && !Codes.TryParse(outcome, out only))
            return ProblemAnswer.Of(400, NotValid, "outcome", $"unknown code; it is one of: {string.Join(", ", Codes.All<RowOutcome>())}");
        if (ReadSubmissions.After(after) is not { } position)
            return ProblemAnswer.Of(400, NotValid, "after", "is not a position this service gave out; start without it");
        return Results.Ok(await read.RowsAsync(id, new(outcome is null ? null : only), position, PageRows, ct));
    }

    /// <summary>The rejected rows with their reasons as a CSV file, to be corrected and sent again as it is.</summary>
    public static async Task<IResult> RejectedAsync(SubmissionId id, Viewer viewer, ReadSubmissions read, AuditReads audit,
        CancellationToken ct)
    {
        if (await read.StatusAsync(id, ct) is not { } status || !viewer.MaySee(status.SiteId)) return NotFound();
        await audit.ListAsync(status.Rejected, ct);
        return Results.Stream(async stream =>
        {
            await using var writer = new StreamWriter(stream, new UTF8Encoding(true));
            await WriteRejectedRows.RunAsync(read, id, writer, ct);
        }, "text/csv; charset=utf-8", $"rejected-{id}.csv");
    }

    private static IResult NotFound() => ProblemAnswer.Of(404, "There is no such submission");
}
