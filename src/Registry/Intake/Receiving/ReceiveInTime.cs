using Microsoft.Extensions.Options;
using Registry.Intake.Raw;
using Registry.Platform;

namespace Registry.Intake.Receiving;

/// <summary>A body that must have arrived within <see cref="IntakeOptions.ReceiveSeconds"/>, whatever reads it: a page's form, an
/// interface, the intake.</summary>
internal sealed class ReceiveInTime(Stream body, CancellationTokenSource late) : ReadOnlyStream
{
    /// <summary>Bounds the time of the bodies of requests that send rows.</summary>
    public static async Task RunAsync(HttpContext http, RequestDelegate next)
    {
        if (!LimitIntake.Applies(http))
        {
            await next(http);
            return;
        }

        var options = http.RequestServices.GetRequiredService<IOptions<IntakeOptions>>().Value;
        var late = new CancellationTokenSource(TimeSpan.FromSeconds(options.ReceiveSeconds));
        http.Response.RegisterForDispose(late);
        http.Request.Body = new ReceiveInTime(http.Request.Body, late);
        await next(http);

        // A form that came too late was answered as one that cannot be understood.
        if (!late.IsCancellationRequested || http.Response is not { HasStarted: false, StatusCode: StatusCodes.Status400BadRequest })
            return;
        http.Response.StatusCode = StatusCodes.Status408RequestTimeout;
        http.Request.ContentType = null;
    }

    /// <exception cref="BadHttpRequestException">408: it took too long, or the body broke off.</exception>
    public override async ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default)
    {
        using var either = CancellationTokenSource.CreateLinkedTokenSource(late.Token, cancellationToken);
        try
        {
            return await body.ReadAsync(buffer, either.Token);
        }
        catch (OperationCanceledException) when (late.IsCancellationRequested && !cancellationToken.IsCancellationRequested)
        {
            throw new BadHttpRequestException("The body took too long.", StatusCodes.Status408RequestTimeout);
        }
    }
}
