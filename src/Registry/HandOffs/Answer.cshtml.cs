using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Platform;

namespace Registry.HandOffs;

/// <summary>The one-page form behind a link for an answer. Opening it asks for the child's birth date and shows nothing else; mail scanners
/// open links too.</summary>
[AllowAnonymous, RequestSizeLimit(16 * 1024)]
public sealed class AnswerModel(
    OpenLink open, TakeAnswer take, [FromKeyedServices(AnswerModel.Tries)] LimitSignIns limits, IOptions<ProgramOptions> program,
    ProgramClock clock) : PageModel
{
    /// <summary>Tries are limited as those to sign in are, and counted apart: who floods this page keeps nobody from signing in.</summary>
    public const string Tries = "answers";

    [BindProperty] public LinkForm Form { get; set; } = new();

    /// <summary>Null before the birth date was given, and once it is answered.</summary>
    public LinkedQuestion? Question { get; private set; }
    public bool IsOpen { get; private set; }
    public bool Done { get; private set; }
    public IReadOnlyList<string> Problems { get; private set; } = [];
    public ProgramOptions Program => program.Value;
    public DateOnly Today => clock.Today;

    public async Task OnGetAsync(string token, CancellationToken ct)
    {
        IsOpen = await open.IsOpenAsync(token, ct);
        if (!IsOpen) Response.StatusCode = StatusCodes.Status404NotFound;
    }

    /// <summary>The birth date alone, or with the answer.</summary>
    public async Task OnPostAsync(string token, [FromForm] bool send, CancellationToken ct)
    {
        IsOpen = true;
        using var turn = await limits.EnterAsync(HttpContext.Connection.RemoteIpAddress?.ToString() ?? "", ct);
        if (!turn.IsAcquired)
        {
            Refuse(StatusCodes.Status429TooManyRequests, AskWords.TooMany);
            return;
        }

        var question = await open.RunAsync(token, ModelState.IsValid ? Form.BornOn : null, ct);
        if (question is null)
        {
            Refuse(StatusCodes.Status422UnprocessableEntity, AskWords.NotOpened);
            return;
        }

        var taken = send ? await take.RunAsync(question, Form, ct) : new(false, []);
        Done = taken.Taken;
        Question = Done ? null : question;
        if (taken.Problems.Count == 0) return;
        Problems = taken.Problems;
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
    }

    private void Refuse(int status, string why)
    {
        Response.StatusCode = status;
        Problems = [why];
    }
}
