using Microsoft.AspNetCore.Identity;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>Changes one's own password. The present one is asked for as at signing in, with the same limits: a session left open must not
/// be enough to guess it.</summary>
public sealed class ChangePassword(UserManager<Person> people, CheckPassword check, Sessions sessions)
{
    /// <returns>What is wrong, in words; nothing when it was changed. Then all sessions but this one are ended.</returns>
    public async Task<IReadOnlyList<string>> RunAsync(Guid id, string current, string wanted, Guid? here, string address,
        CancellationToken ct)
    {
        var person = (await people.FindByIdAsync(id.ToString()))!;
        var checkedNow = await check.RunAsync(person.Email!, current, address, ct);
        if (checkedNow.RetryAfter is not null) return [AccountWords.TooManyTries];
        if (checkedNow.Person is null) return [AccountWords.NotYourPassword];
        if (current == wanted) return [AccountWords.SamePassword];
        var until = person.GivenPasswordUntil;
        person.GivenPasswordUntil = null;
        var changed = await people.ChangePasswordAsync(person, current, wanted);
        if (!changed.Succeeded)
        {
            person.GivenPasswordUntil = until;
            return [.. changed.Errors.Select(e => e.Description)];
        }

        await sessions.EndAsync(id, null, here, ct);
        return [];
    }
}
