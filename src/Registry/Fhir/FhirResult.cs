using System.Text.Json;
using Hl7.Fhir.Model;
using Hl7.Fhir.Serialization;
using Registry.Intake.Formats.Fhir;
using Task = System.Threading.Tasks.Task;

namespace Registry.Fhir;

/// <summary>A resource as an answer, in <c>application/fhir+json</c>.</summary>
public sealed class FhirResult(int status, Resource resource, string? location = null) : IResult, IStatusCodeHttpResult
{
    public const string ContentType = "application/fhir+json";

    private static readonly FhirJsonSerializer Serializer = new();

    public int? StatusCode => status;
    public Resource Resource => resource;

    public async Task ExecuteAsync(HttpContext httpContext)
    {
        httpContext.Response.StatusCode = status;
        httpContext.Response.ContentType = ContentType + "; charset=utf-8";
        if (location is not null) httpContext.Response.Headers.Location = location;
        var bytes = new System.Buffers.ArrayBufferWriter<byte>();
        await using (var writer = new Utf8JsonWriter(bytes)) Serializer.Serialize(resource, writer);
        await httpContext.Response.BodyWriter.WriteAsync(bytes.WrittenMemory, httpContext.RequestAborted);
    }

    /// <summary>An answer that says what is wrong, each issue with the element it is about.</summary>
    public static FhirResult Problem(int status, params IEnumerable<FhirIssue> issues) => new(status, Outcome(issues));

    /// <summary>A problem of the request itself rather than of an element.</summary>
    public static FhirResult Problem(int status, OperationOutcome.IssueType type, string text) => new(status, new OperationOutcome
    {
        Issue = [new() { Severity = OperationOutcome.IssueSeverity.Error, Code = type, Diagnostics = text }],
    });

    public static OperationOutcome Outcome(IEnumerable<FhirIssue> issues) => new()
    {
        Issue =
        [
            .. issues.Select(i => new OperationOutcome.IssueComponent
            {
                Severity = i.Severity,
                Code = i.Type,
                Diagnostics = i.Text,
                Expression = [i.Expression],
            }),
        ],
    };
}
