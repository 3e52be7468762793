using System.Buffers.Text;
using System.Security.Cryptography;
using System.Text;
using Microsoft.EntityFrameworkCore;
using Registry.Records;

namespace Registry.Access;

/// <summary>
/// Issues and revokes the keys sites' systems authenticate with. A key is <c>reg_</c> and 32 random bytes in
/// base64url. We keep its SHA-256 and its first twelve characters: a 256-bit random secret needs no slow hash, and
/// the key itself is shown once and cannot be recovered.
/// </summary>
public sealed class SiteKeys(RegistryDb db, TimeProvider clock, AuditActs audit)
{
    private const string Marker = "reg_";
    private const int PrefixLength = 12;

    /// <summary>How long a replaced key opens beside the new one.</summary>
    public static readonly TimeSpan Overlap = TimeSpan.FromDays(14);

    /// <returns>The stored key and the secret to show once.</returns>
    public Task<(SiteKey Key, string Secret)> IssueAsync(SiteId site, string name, CancellationToken ct = default) =>
        IssueAsync(site, name, KeyScope.SendAndRead, null, ct);

    /// <param name="site">Whose system it is for.</param>
    /// <param name="name">The system.</param>
    /// <param name="scope">What it opens.</param>
    /// <param name="until">From when on it opens nothing.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>The stored key and the secret to show once.</returns>
    public async Task<(SiteKey Key, string Secret)> IssueAsync(SiteId site, string name, KeyScope scope, DateTimeOffset? until,
        CancellationToken ct)
    {
        var secret = Marker + Base64Url.EncodeToString(RandomNumberGenerator.GetBytes(32));
        var key = new SiteKey
        {
            Id = Guid.CreateVersion7(),
            SiteId = site,
            Name = name.Trim(),
            Prefix = secret[..PrefixLength],
            Sha256 = Hash(secret),
            CreatedAt = clock.GetUtcNow(),
            Scope = scope,
            ExpiresAt = until?.ToUniversalTime(),
        };
        db.SiteKeys.Add(key);
        await db.SaveChangesAsync(ct);
        await audit.RecordAsync(AccessKind.KeyIssued, key.Id);
        return (key, secret);
    }

    /// <summary>A new key for the same system; the one before opens for <see cref="Overlap"/> more, so that the system can change
    /// over.</summary>
    /// <returns>Null when there is no such key, or it is out of force or replaced already.</returns>
    public async Task<(SiteKey Key, string Secret)?> RotateAsync(Guid id, DateTimeOffset until, CancellationToken ct)
    {
        var now = clock.GetUtcNow();
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        var end = now + Overlap;
        if (await db.SiteKeys.AsNoTracking().SingleOrDefaultAsync(k => k.Id == id && k.RevokedAt == null, ct) is not { } before
            || before.ExpiresAt <= now) return null;
        if (before.ExpiresAt < end) end = before.ExpiresAt.Value;
        var made = await IssueAsync(before.SiteId, before.Name, before.Scope, until, ct);
        // Of two who replace it at once one is refused, and its new key is never made.
        var replaced = await db.SiteKeys.Where(k => k.Id == id && k.ReplacedBy == null).ExecuteUpdateAsync(
            u => u.SetProperty(k => k.ReplacedBy, made.Key.Id).SetProperty(k => k.ExpiresAt, end), ct);
        if (replaced == 0) return null;
        await transaction.CommitAsync(ct);
        return made;
    }

    /// <summary>Every key: those in force first, the newest first.</summary>
    public async Task<IReadOnlyList<SiteKey>> AllAsync(CancellationToken ct = default) => await db.SiteKeys.AsNoTracking()
        .OrderBy(k => k.RevokedAt != null).ThenByDescending(k => k.CreatedAt).ToListAsync(ct);

    /// <summary>Revokes at once; false when there is no such key or it was revoked before.</summary>
    public async Task<bool> RevokeAsync(Guid id, CancellationToken ct = default)
    {
        var revoked = await db.SiteKeys.Where(k => k.Id == id && k.RevokedAt == null)
            .ExecuteUpdateAsync(u => u.SetProperty(k => k.RevokedAt, clock.GetUtcNow()), ct) == 1;
        if (revoked) await audit.RecordAsync(AccessKind.KeyRevoked, id);
        return revoked;
    }

    /// <summary>Whether a text has the shape of a key.</summary>
    internal static bool MayBe(string secret) => secret.StartsWith(Marker, StringComparison.Ordinal)
        && secret.Length is >= PrefixLength and <= 100;

    internal static byte[] Hash(string secret) => SHA256.HashData(Encoding.UTF8.GetBytes(secret));
}
