using Microsoft.EntityFrameworkCore;
using Registry.Records;

namespace Registry.Access;

/// <summary>Writes down how the trail ended when a day (UTC) was over: in a table, in the log, and to whoever is told.</summary>
public sealed partial class DigestTrail(RegistryDb db, TimeProvider clock, ILogger<DigestTrail> log)
{
    /// <returns>The digest of yesterday, also when an earlier run wrote it; null when nothing has come to the trail since the one
    /// before.</returns>
    public async Task<TrailDigest?> RunAsync(CancellationToken ct)
    {
        var now = clock.GetUtcNow();
        var today = new DateTimeOffset(now.UtcDateTime.Date, TimeSpan.Zero);
        var before = await db.TrailDigests.AsNoTracking().OrderByDescending(d => d.LastId).FirstOrDefaultAsync(ct);
        var since = before?.LastId ?? 0;
        var last = await db.AccessRecords.AsNoTracking().Where(a => a.Id > since && a.At < today && a.Hash != null)
            .OrderByDescending(a => a.Id).FirstOrDefaultAsync(ct);
        var day = DateOnly.FromDateTime(today.UtcDateTime).AddDays(-1);
        if (before?.Day >= day) return before;
        if (last is null) return null;
        var digest = new TrailDigest
        {
            Day = day,
            LastId = last.Id,
            Entries = await db.AccessRecords.CountAsync(a => a.Id > since && a.Id <= last.Id, ct),
            Hash = last.Hash!,
            WrittenAt = now.ToUniversalTime(),
        };
        db.TrailDigests.Add(digest);
        await db.SaveChangesAsync(ct);
        LogDigest(Say(digest));
        return digest;
    }

    [LoggerMessage(LogLevel.Information, "Access trail at the end of {Digest}")]
    private partial void LogDigest(string digest);

    /// <summary>A digest in words, as the log and the letter have it.</summary>
    public static string Say(TrailDigest digest) =>
        $"{digest.Day:yyyy-MM-dd}: {digest.Entries} entries, the last is {digest.LastId}, SHA-256 {Convert.ToHexStringLower(digest.Hash)}";
}
