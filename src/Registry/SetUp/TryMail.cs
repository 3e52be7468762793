using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Outreach;
using Registry.Records;

namespace Registry.SetUp;

/// <summary>Sends whoever asks a test letter.</summary>
public sealed class TryMail(RegistryDb db, MailStaff mail, ShowProgress progress, Viewer viewer)
{
    public Task<string> ToAsync(CancellationToken ct) => db.Users.Where(p => p.Id == viewer.PersonId).Select(p => p.Email!).SingleAsync(ct);

    /// <returns>False when it did not leave.</returns>
    public async Task<bool> RunAsync(CancellationToken ct)
    {
        if (!await mail.SendAsync(await ToAsync(ct), SetUpWords.TestSubject, SetUpWords.TestText, ct)) return false;
        await progress.AnswerAsync(SetUpStep.Mail, ct);
        return true;
    }
}
