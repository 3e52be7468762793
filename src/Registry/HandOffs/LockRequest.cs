using Microsoft.EntityFrameworkCore;
using Registry.Records;

namespace Registry.HandOffs;

/// <summary>The one way a question is held while somebody tries or answers it.</summary>
internal static class LockRequest
{
    /// <summary>Locks a question until the caller's transaction ends, and reads it as it is then: a hundred tries at once are one after the
    /// other.</summary>
    /// <returns>Null when it is answered, closed or run out.</returns>
    public static async Task<AnswerRequest?> LockOpenAsync(this RegistryDb db, Guid id, DateTimeOffset now, CancellationToken ct)
    {
        await db.Database.ExecuteSqlAsync($"select from answer_requests where id = {id} for update", ct);
        var request = await db.AnswerRequests.SingleAsync(r => r.Id == id, ct);
        await db.Entry(request).ReloadAsync(ct);
        return AskForAnswer.IsOpen(request, now) ? request : null;
    }
}
