using Microsoft.AspNetCore.Mvc.Filters;
using Registry.Records;

namespace Registry.Access;

/// <summary>
/// Records who looked, when, from where, through which page and filter, at whom. Called by every page and endpoint that
/// shows a person, after the infants are known and before anything is sent: what could not be recorded is not shown.
/// </summary>
public sealed class AuditReads(AppendToTrail trail, DescribeRequest request, IHttpContextAccessor http)
{
    /// <summary>Infants one entry names at most; an export is several entries.</summary>
    internal const int InfantsAnEntry = 10_000;

    /// <summary>Whether this request has recorded what it shows.</summary>
    public bool Recorded { get; private set; }

    /// <summary>One infant was shown.</summary>
    public async Task OneAsync(InfantId infant, CancellationToken ct = default)
    {
        await trail.AddAsync(request.Entry(Context, AccessKind.Read, infant: infant, count: 1));
        Recorded = true;
    }

    /// <summary>Rows were shown whose infants are not known or not looked up, as many as these: a trial, rejected rows.</summary>
    public async Task ListAsync(int rows, CancellationToken ct = default)
    {
        await trail.AddAsync(request.Entry(Context, AccessKind.Read, count: rows));
        Recorded = true;
    }

    /// <summary>A list or an export was shown that held exactly these infants (none is recorded too): who asks who looked at one of them
    /// finds it.</summary>
    public async Task ListAsync(IEnumerable<InfantId> infants, CancellationToken ct = default)
    {
        var ids = infants.Select(i => i.Value).Distinct().Order().ToArray();
        var parts = ids.Length == 0 ? [[]] : ids.Chunk(InfantsAnEntry);
        await Task.WhenAll(parts.Select(part =>
            trail.AddAsync(request.Entry(Context, AccessKind.Read, count: part.Length, infants: part))));
        Recorded = true;
    }

    private HttpContext Context => http.HttpContext ?? throw new InvalidOperationException("Reads are audited within a request.");
}

/// <summary>Marks a page or endpoint whose answer shows infants. Such an answer must be recorded
/// by <see cref="AuditReads"/>; <see cref="RequireAudit"/> turns one that was not into an error.</summary>
[AttributeUsage(AttributeTargets.Class | AttributeTargets.Method)]
public sealed class ShowsInfantsAttribute : Attribute;

/// <summary>Refuses to send the answer of a <see cref="ShowsInfantsAttribute"/> page or endpoint nobody recorded.</summary>
public sealed class RequireAudit : IAsyncAlwaysRunResultFilter, IEndpointFilter
{
    public Task OnResultExecutionAsync(ResultExecutingContext context, ResultExecutionDelegate next)
    {
        var shows = context.ActionDescriptor.EndpointMetadata.OfType<ShowsInfantsAttribute>().Any();
        var content = context.Result is Microsoft.AspNetCore.Mvc.RazorPages.PageResult
            or Microsoft.AspNetCore.Mvc.FileResult or Microsoft.AspNetCore.Mvc.PartialViewResult;
        if (shows && content) Check(context.HttpContext);
        return next();
    }

    public async ValueTask<object?> InvokeAsync(EndpointFilterInvocationContext context, EndpointFilterDelegate next)
    {
        var result = await next(context);
        if (context.HttpContext.GetEndpoint()?.Metadata.GetMetadata<ShowsInfantsAttribute>() is not null
            && result is not IStatusCodeHttpResult { StatusCode: >= 300 } && context.HttpContext.Response.StatusCode < 300)
        {
            Check(context.HttpContext);
        }

        return result;
    }

    private static void Check(HttpContext http)
    {
        if (!http.RequestServices.GetRequiredService<AuditReads>().Recorded)
            throw new InvalidOperationException($"{http.GetEndpoint()?.DisplayName} shows infants but did not record the read.");
    }
}
