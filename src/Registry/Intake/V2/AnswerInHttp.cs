using System.Buffers;
using Registry.Access;
using Registry.Records;

namespace Registry.Intake.V2;

/// <summary>HL7 v2 over <c>POST /api/v1/submissions</c>: the body of the answer is the acknowledgement. A sender that asks for
/// <c>application/json</c> gets the answer every other format gets.</summary>
public static class AnswerInHttp
{
    public const string ContentType = "application/hl7-v2";

    internal static bool AsksForJson(HttpContext http) =>
        http.Request.GetTypedHeaders().Accept.Any(a => a.MediaType.Equals("application/json", StringComparison.OrdinalIgnoreCase));

    internal static async Task<IResult> RunAsync(HttpContext http, Receipt receipt, CancellationToken ct)
    {
        var answer = http.RequestServices.GetRequiredService<AnswerMessages>();
        var body = new ArrayBufferWriter<byte>(1_024);
        http.Response.Headers.Location = $"/api/v1/submissions/{receipt.Id}";
        if (await answer.FinishAsync(receipt.Id, body, ct))
            return new Acknowledgement(body.WrittenMemory, receipt.Kind == ReceiptKind.Refused ? StatusCodes.Status400BadRequest : StatusCodes.Status200OK);
        http.Response.Headers.RetryAfter = "5";
        return SubmitRows.Problem(409, "The submission is being processed", [new(0, null, "ask for its acknowledgement later")], $"/api/v1/submissions/{receipt.Id}");
    }

    /// <summary>The acknowledgements of a submission, again or for the first time.</summary>
    public static async Task<IResult> AgainAsync(
        SubmissionId id, HttpContext http, Viewer viewer, ReadSubmissions read, AcknowledgeSubmission acknowledge, CancellationToken ct)
    {
        if (await read.StatusAsync(id, ct) is not { Format: SubmissionFormat.Hl7V2 } status || !viewer.MaySee(status.SiteId)) return Results.Problem(statusCode: 404, title: "There is no such submission of messages");
        var body = new ArrayBufferWriter<byte>(1_024);
        if (await acknowledge.WriteAsync(id, body, ct)) return new Acknowledgement(body.WrittenMemory, StatusCodes.Status200OK);
        http.Response.Headers.RetryAfter = "5";
        return SubmitRows.Problem(409, "The submission is being processed", [new(0, null, "ask again later")], $"/api/v1/submissions/{id}");
    }

    private sealed class Acknowledgement(ReadOnlyMemory<byte> body, int status) : IResult
    {
        public async Task ExecuteAsync(HttpContext httpContext)
        {
            httpContext.Response.StatusCode = status;
            httpContext.Response.ContentType = ContentType;
            httpContext.Response.ContentLength = body.Length;
            await httpContext.Response.Body.WriteAsync(body, httpContext.RequestAborted);
        }
    }
}
