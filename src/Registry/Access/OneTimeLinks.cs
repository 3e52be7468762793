using System.Buffers.Text;
using System.Security.Cryptography;
using System.Text;
using Microsoft.EntityFrameworkCore;
using Registry.Records;

namespace Registry.Access;

/// <summary>Makes links that open one page once, and says whether one still does. One that is unknown, used, replaced or run out is
/// answered alike: null.</summary>
public sealed class OneTimeLinks(RegistryDb db, TimeProvider clock)
{
    private const int TokenBytes = 32;

    /// <summary>How long the link for the first administrator opens.</summary>
    public static readonly TimeSpan SetUpLasts = TimeSpan.FromHours(24);

    /// <summary>How long a person has to choose a password.</summary>
    public static readonly TimeSpan PasswordLasts = TimeSpan.FromDays(3);

    /// <returns>What stands in the link, shown to nobody else.</returns>
    public async Task<string> MakeAsync(LinkPurpose purpose, Guid? person, Guid? by, CancellationToken ct)
    {
        var token = Base64Url.EncodeToString(RandomNumberGenerator.GetBytes(TokenBytes));
        var now = clock.GetUtcNow();
        db.OneTimeLinks.Add(new()
        {
            Id = Guid.CreateVersion7(),
            Purpose = purpose,
            TokenSha256 = Hash(token),
            PersonId = person,
            MadeAt = now,
            MadeBy = by,
            EndsAt = now + (purpose == LinkPurpose.SetUp ? SetUpLasts : PasswordLasts),
        });
        await db.SaveChangesAsync(ct);
        return token;
    }

    /// <summary>Links made before open nothing any more.</summary>
    public Task EndAsync(LinkPurpose purpose, Guid? person, CancellationToken ct) => db.OneTimeLinks
        .Where(l => l.Purpose == purpose && l.PersonId == person && l.UsedAt == null)
        .ExecuteUpdateAsync(u => u.SetProperty(l => l.UsedAt, clock.GetUtcNow()), ct);

    public async Task<OneTimeLink?> FindAsync(LinkPurpose purpose, string token, CancellationToken ct) =>
        token.Length != Base64Url.GetEncodedLength(TokenBytes) ? null
            : await InForce().AsNoTracking().SingleOrDefaultAsync(l => l.Purpose == purpose && l.TokenSha256 == Hash(token), ct);

    /// <summary>Whether a link of somebody's would still open.</summary>
    public Task<bool> IsOpenAsync(LinkPurpose purpose, Guid person, CancellationToken ct) =>
        InForce().AnyAsync(l => l.Purpose == purpose && l.PersonId == person, ct);

    /// <summary>Uses it up, as part of the transaction of what it was for: of two who come at once one waits and is refused.</summary>
    public async Task<bool> UseAsync(OneTimeLink link, CancellationToken ct) => await InForce().Where(l => l.Id == link.Id)
        .ExecuteUpdateAsync(u => u.SetProperty(l => l.UsedAt, clock.GetUtcNow()), ct) == 1;

    private IQueryable<OneTimeLink> InForce()
    {
        var now = clock.GetUtcNow();
        return db.OneTimeLinks.Where(l => l.UsedAt == null && l.EndsAt > now);
    }

    private static byte[] Hash(string token) => SHA256.HashData(Encoding.UTF8.GetBytes(token));
}
