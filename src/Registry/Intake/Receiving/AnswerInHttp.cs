using System.Buffers;
using Npgsql;
using Registry.Access;
using Registry.Intake.Raw;
using Registry.Intake.Submissions;
using Registry.Records;

namespace Registry.Intake.Receiving;

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
        var location = $"/api/v1/submissions/{receipt.Id}";
        http.Response.Headers.Location = location;
        try
        {
            if (await answer.FinishAsync(receipt.Id, body, ct))
                return new Acknowledgement(
                    body.WrittenMemory, receipt.Kind == ReceiptKind.Refused ? StatusCodes.Status400BadRequest : StatusCodes.Status200OK);
        }
        catch (NpgsqlException e)
        {
            Log(http, e);
            http.Response.Headers.RetryAfter = "5";
            return SubmitRows.Problem(503, "The messages are kept, but could not be worked through yet",
                [new(0, null, "send them again, unchanged, or ask for the acknowledgement later")], location);
        }

        http.Response.Headers.RetryAfter = "5";
        return SubmitRows.Problem(409, "The submission is being processed", [new(0, null, "ask for its acknowledgement later")], location);
    }

    /// <summary>A fault of ours before anything was stored: AR, to the message whose beginning is known.</summary>
    internal static IResult Fault(HttpContext http, ReadOnlyMemory<byte> head, NpgsqlException fault)
    {
        Log(http, fault);
        var body = new ArrayBufferWriter<byte>(512);
        http.RequestServices.GetRequiredService<AnswerMessages>().RejectForFault(head, body);
        http.Response.Headers.RetryAfter = "5";
        return new Acknowledgement(body.WrittenMemory, StatusCodes.Status503ServiceUnavailable);
    }

    /// <summary>The text of a database error can repeat values.</summary>
    private static void Log(HttpContext http, NpgsqlException e) => http.RequestServices.GetRequiredService<ILogger<AnswerMessages>>()
        .LogError("Messages over HTTP: {Error}", e is PostgresException p ? p.SqlState : e.GetType().Name);

    /// <summary>The body as it comes, its first bytes kept: an answer to it echoes its header.</summary>
    internal sealed class KeepHead(Stream body) : ReadOnlyStream
    {
        private readonly byte[] _head = new byte[4_096];
        private int _length;

        public ReadOnlyMemory<byte> Head => _head.AsMemory(0, _length);

        public override async ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default)
        {
            var read = await body.ReadAsync(buffer, cancellationToken);
            return Kept(buffer.Span, read);
        }

        private int Kept(ReadOnlySpan<byte> buffer, int read)
        {
            var keep = Math.Min(read, _head.Length - _length);
            buffer[..keep].CopyTo(_head.AsSpan(_length));
            _length += keep;
            return read;
        }
    }

    /// <summary>The acknowledgements of a submission, again or for the first time.</summary>
    public static async Task<IResult> AgainAsync(
        SubmissionId id, HttpContext http, Viewer viewer, ReadSubmissions read, AcknowledgeSubmission acknowledge, CancellationToken ct)
    {
        if (await read.StatusAsync(id, ct) is not { Format: SubmissionFormat.Hl7V2 } status || !viewer.MaySee(status.SiteId))
            return Results.Problem(statusCode: 404, title: "There is no such submission of messages");
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
