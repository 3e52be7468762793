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
