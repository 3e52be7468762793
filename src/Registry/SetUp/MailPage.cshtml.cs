using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Outreach;

namespace Registry.SetUp;

/// <summary>How mail leaves, and a test letter to oneself.</summary>
[Authorize(Permissions.Administrator)]
public sealed class MailPageModel(TryMail attempt, ShowProgress progress, MailStaff mail) : PageModel
{
    public MailStaff Mail => mail;
    public string To { get; private set; } = "";
    public string? Next { get; private set; }
    public bool Answered { get; private set; }

    public async Task OnGetAsync(CancellationToken ct)
    {
        To = await attempt.ToAsync(ct);
        Next = await progress.NextAsync(ct);
        Answered = (await progress.StepsAsync(ct)).Single(s => s.Step == SetUpStep.Mail).Done;
    }

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        if (!await attempt.RunAsync(ct))
        {
            await OnGetAsync(ct);
            ModelState.AddModelError("", SetUpWords.MailNotSent);
            return Page();
        }

        TempData["Done"] = mail.HasServer ? SetUpWords.MailSent : SetUpWords.MailLater;
        return LocalRedirect(mail.HasServer ? "/setup/mail" : await progress.NextAsync(ct) ?? "/setup");
    }
}
