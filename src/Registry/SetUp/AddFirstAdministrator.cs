using Microsoft.AspNetCore.Identity;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.SetUp;

/// <summary>Makes the one who makes all others, by a link that the start printed. Of two who come at once the second finds an administrator
/// there; from then on no such link opens anything, used or not.</summary>
public sealed class AddFirstAdministrator(
    UserManager<Person> people, RegistryDb db, OneTimeLinks links, Demonstration demonstration, AuditActs audit)
{
    /// <summary>Whether somebody administers this registry.</summary>
    public Task<bool> IsAdministeredAsync(CancellationToken ct) => db.Users.AnyAsync(
        p => p.Role == Role.Administrator && p.DisabledAt == null && (!p.Demonstration || demonstration.IsOn), ct);

    /// <summary>A link, and the end of those before when a new one was asked for.</summary>
    /// <returns>Null when somebody administers it already.</returns>
    public async Task<string?> MakeLinkAsync(bool replacing, CancellationToken ct)
    {
        if (await IsAdministeredAsync(ct)) return null;
        if (replacing) await links.EndAsync(LinkPurpose.SetUp, null, ct);
        return await links.MakeAsync(LinkPurpose.SetUp, null, null, ct);
    }

    public async Task<bool> OpensAsync(string token, CancellationToken ct) =>
        await links.FindAsync(LinkPurpose.SetUp, token, ct) is not null && !await IsAdministeredAsync(ct);

    /// <returns>The administrator; or what is wrong with what was entered; or nothing: the link opens nothing.</returns>
    public async Task<(Person? Person, IReadOnlyList<string> Problems)> RunAsync(
        string token, string email, string name, string password, CancellationToken ct)
    {
        if (await links.FindAsync(LinkPurpose.SetUp, token, ct) is not { } link) return (null, []);
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        await AdvisoryLock.ForTransactionAsync((NpgsqlConnection)db.Database.GetDbConnection(), LockedThing.FirstAdministrator, "", ct);
        if (await IsAdministeredAsync(ct) || !await links.UseAsync(link, ct)) return (null, []);
        var person = new Person
        {
            Id = Guid.CreateVersion7(),
            UserName = email.Trim(),
            Email = email.Trim(),
            EmailConfirmed = true,
            DisplayName = name.Trim(),
            Role = Role.Administrator,
        };
        var made = await people.CreateAsync(person, password);
        if (!made.Succeeded) return (null, [.. made.Errors.Select(e => e.Description).Distinct()]);
        await transaction.CommitAsync(ct);
        await audit.RecordAsync(AccessKind.LinkUsed, person.Id, "first_administrator", person.Id);
        return (person, []);
    }
}
