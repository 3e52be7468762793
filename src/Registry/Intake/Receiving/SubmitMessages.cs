using System.Buffers;
using Npgsql;
using Registry.Access;
using Registry.Intake.Formats;
using Registry.Intake.Rows;
using Registry.Intake.Submissions;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.Receiving;

/// <summary>HL7 v2 over <c>POST /api/v1/submissions</c>: the body of the answer is the acknowledgement. A sender that asks for
/// <c>application/json</c>, or sends more rows than an answer waits for, gets the answer every other format gets.</summary>
public sealed class SubmitMessages(
    Submit submit, AnswerRequest answer, AnswerMessages words, AcknowledgeSubmission acknowledge, ILogger<SubmitMessages> log)
{
    private const string RetryAfter = "5";

    public async Task<IResult> RunAsync(SentFile sent, HttpContext http, CancellationToken ct)
    {
        var body = new RememberStart(http.Request.Body);
        var few = submit.FewRows with { ForOthers = true };
        var submitted = await submit.RunAsync(sent, body, http.Request.ContentLength, few, ct);
        return submitted switch
        {
            Submitted.Nothing { Why: NotStored.Outage or NotStored.Fault } => Fault(http, body.Start),
            Submitted.Stored stored when stored.Rows <= few.Rows => await AcknowledgeAsync(http, stored.Id, ct),
            Submitted.Kept kept => Kept(http, kept.Id),
            _ => await answer.OfAsync(http, submitted, ct),
        };
    }

    /// <summary>The acknowledgements of a submission, again or for the first time.</summary>
    public static async Task<IResult> AgainAsync(
        SubmissionId id, HttpContext http, Viewer viewer, ReadSubmissions read, AcknowledgeSubmission acknowledge, CancellationToken ct)
    {
        if (await read.StatusAsync(id, ct) is not { Format: SubmissionFormat.Hl7V2 } status || !viewer.MaySee(status.SiteId))
            return Results.Problem(statusCode: 404, title: "There is no such submission of messages");
        var body = new ArrayBufferWriter<byte>(1_024);
        return await acknowledge.WriteAsync(id, body, ct) is null
            ? BeingProcessed(http, id, "ask again later") : new Acknowledgement(body.WrittenMemory, StatusCodes.Status200OK);
    }

    private async Task<IResult> AcknowledgeAsync(HttpContext http, SubmissionId id, CancellationToken ct)
    {
        http.Response.Headers.Location = FollowSubmission.Location(id);
        var body = new ArrayBufferWriter<byte>(1_024);
        try
        {
            return await acknowledge.WriteAsync(id, body, ct) is { } status
                ? new Acknowledgement(body.WrittenMemory, status.IsRefused ? StatusCodes.Status400BadRequest : StatusCodes.Status200OK)
                : BeingProcessed(http, id, "ask for its acknowledgement later");
        }
        catch (NpgsqlException e)
        {
            log.LogError("Messages over HTTP could not be answered: {Error}", DatabaseOutage.Name(e));
            return Kept(http, id);
        }
    }

    private static IResult BeingProcessed(HttpContext http, SubmissionId id, string then)
    {
        http.Response.Headers.RetryAfter = RetryAfter;
        return ProblemAnswer.Of(
            409, "The submission is being processed", FollowSubmission.Location(id), new FileProblem(0, null, then));
    }

    private static IResult Kept(HttpContext http, SubmissionId id)
    {
        http.Response.Headers.Location = FollowSubmission.Location(id);
        http.Response.Headers.RetryAfter = RetryAfter;
        return ProblemAnswer.Of(503, "The messages are kept, but could not be worked through yet", FollowSubmission.Location(id),
            new FileProblem(0, null, "send them again, unchanged, or ask for the acknowledgement later"));
    }

    /// <summary>A fault of ours before anything was stored: AR, to the message whose beginning is known.</summary>
    private Acknowledgement Fault(HttpContext http, ReadOnlyMemory<byte> start)
    {
        var body = new ArrayBufferWriter<byte>(512);
        words.RejectForFault(start, body);
        http.Response.Headers.RetryAfter = RetryAfter;
        return new(body.WrittenMemory, StatusCodes.Status503ServiceUnavailable);
    }

    private sealed class Acknowledgement(ReadOnlyMemory<byte> body, int status) : IResult
    {
        public async Task ExecuteAsync(HttpContext httpContext)
        {
            httpContext.Response.StatusCode = status;
            httpContext.Response.ContentType = ContentTypes.Hl7V2;
            httpContext.Response.ContentLength = body.Length;
            await httpContext.Response.Body.WriteAsync(body, httpContext.RequestAborted);
        }
    }

    /// <summary>The body as it comes, its first bytes kept: an answer to it echoes its header.</summary>
    private sealed class RememberStart(Stream body) : ReadOnlyStream
    {
        private readonly byte[] _start = new byte[4_096];
        private int _length;

        public ReadOnlyMemory<byte> Start => _start.AsMemory(0, _length);

        public override async ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default)
        {
            var read = await body.ReadAsync(buffer, cancellationToken);
            var keep = Math.Min(read, _start.Length - _length);
            buffer.Span[..keep].CopyTo(_start.AsSpan(_length));
            _length += keep;
            return read;
        }
    }
}
