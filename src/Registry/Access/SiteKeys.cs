using System.Buffers.Text;
using System.Security.Cryptography;
using System.Text;
using Microsoft.EntityFrameworkCore;
using Registry.Records;

namespace Registry.Access;

/// <summary>
/// Issues and revokes what sites' systems come in by. A secret is <c>reg_</c> and 32 random bytes in
/// base64url. We keep its SHA-256 and its first twelve characters: a 256-bit random secret needs no slow hash, and
/// the secret itself is shown once and cannot be recovered. A system that signs has none: its public keys are kept.
/// </summary>
public sealed class SiteKeys(RegistryDb db, TimeProvider clock, AuditActs audit)
{
    private const string Marker = "reg_", TokenMarker = "tok_";
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
        var secret = Random(Marker);
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
        await AddAsync(key, ct);
        return (key, secret);
    }

    /// <summary>A system that signs: its id is the <c>client_id</c> of its assertions.</summary>
    /// <param name="site">Whose system it is.</param>
    /// <param name="name">The system.</param>
    /// <param name="scope">What it opens.</param>
    /// <param name="until">From when on it opens nothing.</param>
    /// <param name="publicKeys">As <see cref="Tokens.PublicKeySet"/> keeps them.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<SiteKey> RegisterAsync(SiteId site, string name, KeyScope scope, DateTimeOffset? until, string publicKeys,
        CancellationToken ct)
    {
        var key = new SiteKey
        {
            Id = Guid.CreateVersion7(),
            SiteId = site,
            Name = name.Trim(),
            Prefix = "",
            PublicKeys = publicKeys,
            CreatedAt = clock.GetUtcNow(),
            Scope = scope,
            ExpiresAt = until?.ToUniversalTime(),
        };
        await AddAsync(key, ct);
        return key;
    }

    /// <summary>Other public keys for a system that signs, and a new end. Only the new ones count from its next token on; tokens it holds
    /// end within minutes.</summary>
    /// <returns>False when there is no such system, or it was revoked.</returns>
    public Task<bool> ChangePublicKeysAsync(Guid id, string publicKeys, DateTimeOffset until, CancellationToken ct) => ChangeAsync(
        db.SiteKeys.Where(k => k.Id == id && k.RevokedAt == null && k.PublicKeys != null).ExecuteUpdateAsync(
            u => u.SetProperty(k => k.PublicKeys, publicKeys).SetProperty(k => k.ExpiresAt, until.ToUniversalTime())
                .SetProperty(k => k.ToldAt, (DateTimeOffset?)null), ct), id, "public_keys");

    /// <summary>Demands one of these client certificates from the next request on; none: demands none any more.</summary>
    /// <returns>False when there is no such key, or it was revoked.</returns>
    public Task<bool> PinAsync(Guid id, IEnumerable<string> certificates, CancellationToken ct)
    {
        string[] pins = [.. certificates.Select(CertificatePins.Normalize).Distinct()];
        return ChangeAsync(db.SiteKeys.Where(k => k.Id == id && k.RevokedAt == null).ExecuteUpdateAsync(
            u => u.SetProperty(k => k.Certificates, pins), ct), id, "certificates");
    }

    public Task<SiteKey?> FindAsync(Guid id, CancellationToken ct) => db.SiteKeys.AsNoTracking().SingleOrDefaultAsync(k => k.Id == id, ct);

    /// <summary>A new key for the same system; the one before opens for <see cref="Overlap"/> more, so that the system can change
    /// over.</summary>
    /// <returns>Null when there is no such key, it is out of force or replaced already, or its system signs: then its public keys are
    /// changed.</returns>
    public async Task<(SiteKey Key, string Secret)?> RotateAsync(Guid id, DateTimeOffset until, CancellationToken ct)
    {
        var now = clock.GetUtcNow();
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        var end = now + Overlap;
        if (await db.SiteKeys.AsNoTracking().SingleOrDefaultAsync(
                k => k.Id == id && k.RevokedAt == null && k.PublicKeys == null, ct) is not { } before
            || before.ExpiresAt <= now) return null;
        if (before.ExpiresAt < end) end = before.ExpiresAt.Value;
        var made = await IssueAsync(before.SiteId, before.Name, before.Scope, until, ct);
        // Of two who replace it at once one is refused, and its new key is never made.
        var replaced = await db.SiteKeys.Where(k => k.Id == id && k.ReplacedBy == null).ExecuteUpdateAsync(
            u => u.SetProperty(k => k.ReplacedBy, made.Key.Id).SetProperty(k => k.ExpiresAt, end), ct);
        if (replaced == 0) return null;
        if (before.Certificates.Length > 0) await PinAsync(made.Key.Id, before.Certificates, ct);
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

    /// <summary>What a system is given for an assertion.</summary>
    internal static string NewToken() => Random(TokenMarker);

    /// <summary>Whether a text has the shape of a key or token.</summary>
    internal static bool MayBe(string secret) =>
        (secret.StartsWith(Marker, StringComparison.Ordinal) || secret.StartsWith(TokenMarker, StringComparison.Ordinal))
        && secret.Length is >= PrefixLength and <= 100;

    internal static byte[] Hash(string secret) => SHA256.HashData(Encoding.UTF8.GetBytes(secret));

    private static string Random(string marker) => marker + Base64Url.EncodeToString(RandomNumberGenerator.GetBytes(32));

    private async Task AddAsync(SiteKey key, CancellationToken ct)
    {
        db.SiteKeys.Add(key);
        await db.SaveChangesAsync(ct);
        await audit.RecordAsync(AccessKind.KeyIssued, key.Id);
    }

    private async Task<bool> ChangeAsync(Task<int> change, Guid id, string what)
    {
        if (await change == 0) return false;
        await audit.RecordAsync(AccessKind.KeyChanged, id, what);
        return true;
    }
}
