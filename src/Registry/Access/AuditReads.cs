using Microsoft.AspNetCore.Mvc.Filters;
using Registry.Records;

namespace Registry.Access;

/// <summary>
/// Appends to the access record: who looked, when, through which route, at whom. Called by every page and endpoint that
/// shows a person, after the infants are known and before anything is sent: what could not be recorded is not shown.
/// </summary>
public sealed class AuditReads(RegistryDb db, TimeProvider clock, IHttpContextAccessor http)
{
    /// <summary>Whether this request has recorded what it shows.</summary>
    public bool Recorded { get; private set; }

    /// <summary>One infant was shown.</summary>
    public Task OneAsync(InfantId infant, CancellationToken ct = default) => AppendAsync(infant, 1, ct);

    /// <summary>A list, an export or rows of a submission were shown, which held this many infants (zero is recorded too).</summary>
    public Task ListAsync(int infants, CancellationToken ct = default) => AppendAsync(null, infants, ct);

    private async Task AppendAsync(InfantId? infant, int count, CancellationToken ct)
    {
        var context = http.HttpContext ?? throw new InvalidOperationException("Reads are audited within a request.");
        var viewer = Viewer.Of(context.User);
        var pattern = (context.GetEndpoint() as RouteEndpoint)?.RoutePattern.RawText ?? "";
        db.AccessRecords.Add(new()
        {
            At = clock.GetUtcNow(),
            PersonId = viewer.PersonId,
            SiteKeyId = viewer.SiteKeyId,
            Action = $"{context.Request.Method} /{pattern.TrimStart('/')}",
            InfantId = infant,
            InfantCount = count,
        });
        await db.SaveChangesAsync(ct);
        Recorded = true;
    }
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
            && result is not IStatusCodeHttpResult { StatusCode: >= 300 }
            && context.HttpContext.Response.StatusCode < 300) // what could not even be read is refused before, and shows nothing
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
