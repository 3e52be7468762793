using Registry.Intake.Rows;

namespace Registry.Intake.Submissions;

/// <summary>What is wrong, for a site's system: problem+json (RFC 9457) with row, field and reason of each error.</summary>
internal static class ProblemAnswer
{
    /// <param name="status">The HTTP status.</param>
    /// <param name="title">What is the matter, always the same words.</param>
    /// <param name="submission">Where to follow what was stored all the same.</param>
    /// <param name="errors">Each with its row, 0 for the file or the request.</param>
    public static IResult Of(int status, string title, string? submission, params IReadOnlyList<FileProblem> errors) =>
        Results.Problem(statusCode: status, title: title, extensions: submission is null
            ? new Dictionary<string, object?> { ["errors"] = errors }
            : new Dictionary<string, object?> { ["errors"] = errors, ["submission"] = submission });

    public static IResult Of(int status, string title, params IReadOnlyList<FileProblem> errors) => Of(status, title, null, errors);

    /// <summary>A problem of one part of the request, or with null of all of it.</summary>
    public static IResult Of(int status, string title, string? field, string reason) =>
        Of(status, title, new FileProblem(0, field, reason));
}
