using Microsoft.EntityFrameworkCore;
using Registry.Records;

namespace Registry.Access;

/// <summary>What a check of the trail found.</summary>
/// <param name="Entries">Entries that were checked.</param>
/// <param name="Problem">Null: intact.</param>
/// <param name="Broken">The first entry that is not what it was, where it is an entry.</param>
/// <param name="Hash">The end of the trail, as far as it is intact.</param>
public sealed record VerifiedTrail(long Entries, string? Problem, AccessRecord? Broken, byte[] Hash);

/// <summary>Computes the whole chain again, and holds it against the digests that were written down day by day.</summary>
public sealed class VerifyTrail(RegistryDb db)
{
    public async Task<VerifiedTrail> RunAsync(CancellationToken ct)
    {
        var digests = new Queue<TrailDigest>(await db.TrailDigests.AsNoTracking().OrderBy(d => d.LastId).ToListAsync(ct));
        var (hash, count, sinceDigest) = (ChainTrail.Beginning, 0L, 0);
        await foreach (var entry in db.AccessRecords.AsNoTracking().OrderBy(a => a.Id).AsAsyncEnumerable().WithCancellation(ct))
        {
            if (digests.TryPeek(out var passed) && passed.LastId < entry.Id) return new(count, Gone(passed), entry, hash);
            if (entry.Hash is null)
                return new(count, "it has no hash: it was put there by something else than the program", entry, hash);
            var computed = ChainTrail.Hash(hash, entry);
            if (!computed.AsSpan().SequenceEqual(entry.Hash))
                return new(count, "it was changed, or an entry before it was removed, added or moved", entry, hash);
            (hash, count, sinceDigest) = (computed, count + 1, sinceDigest + 1);
            if (!digests.TryPeek(out var digest) || digest.LastId != entry.Id) continue;
            if (digest.Entries != sinceDigest || !digest.Hash.AsSpan().SequenceEqual(hash))
                return new(count, $"{digest.Day:yyyy-MM-dd} does not end as the digest says that was written down", entry, hash);
            digests.Dequeue();
            sinceDigest = 0;
        }

        return new(count, digests.TryPeek(out var left) ? Gone(left) : null, null, hash);
    }

    /// <summary>The finding in words.</summary>
    public static string Say(VerifiedTrail found)
    {
        var end = $"{found.Entries} entries, ending with SHA-256 {Convert.ToHexStringLower(found.Hash)}";
        return found.Problem is null ? $"The access trail is intact: {end}."
            : $"The access trail is broken{(found.Broken is { } entry ? $" at entry {entry.Id} of {entry.At:yyyy-MM-dd HH:mm:ss}" : "")}: "
                + $"{found.Problem}. Intact before that: {end}.";
    }

    private static string Gone(TrailDigest digest) =>
        $"entry {digest.LastId}, with which {digest.Day:yyyy-MM-dd} ended when its digest was written down, is gone";
}
