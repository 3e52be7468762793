using Microsoft.AspNetCore.Identity;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>Somebody with a link chooses a password: invited, or asked to choose another. The link is used up with it; a password that is
/// refused leaves it.</summary>
public sealed class ChoosePassword(UserManager<Person> people, RegistryDb db, OneTimeLinks links, AuditActs audit)
{
    /// <summary>Whose link it is; null when it opens nothing.</summary>
    public async Task<Person?> WhoseAsync(string token, CancellationToken ct) =>
        await links.FindAsync(LinkPurpose.Password, token, ct) is { PersonId: { } id }
            && await people.FindByIdAsync(id.ToString()) is { DisabledAt: null } person ? person : null;

    /// <returns>Who may be signed in; or what is wrong, and nothing at all when the link opens nothing any more.</returns>
    public async Task<(Person? Person, IReadOnlyList<string> Problems)> RunAsync(string token, string password, CancellationToken ct)
    {
        if (await links.FindAsync(LinkPurpose.Password, token, ct) is not { } link || await WhoseAsync(token, ct) is not { } person)
            return (null, []);
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        if (!await links.UseAsync(link, ct)) return (null, []);
        person.GivenPasswordUntil = null;
        if (await people.HasPasswordAsync(person)) await people.RemovePasswordAsync(person);
        var added = await people.AddPasswordAsync(person, password);
        if (!added.Succeeded) return (null, [.. added.Errors.Select(e => e.Description).Distinct()]);
        await transaction.CommitAsync(ct);
        await audit.RecordAsync(AccessKind.LinkUsed, person.Id, by: person.Id);
        return (person, []);
    }
}
