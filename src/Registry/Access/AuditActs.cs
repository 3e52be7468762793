using Registry.Records;

namespace Registry.Access;

/// <summary>Records what somebody did, beside looking: signing in, keys, policies, jobs, erasure.</summary>
public sealed class AuditActs(AppendToTrail trail, DescribeRequest request, IHttpContextAccessor http)
{
    /// <param name="kind">What was done.</param>
    /// <param name="subject">The key, person or draft it was done to.</param>
    /// <param name="note">A code or name, never a value of a person.</param>
    /// <param name="by">Who did it, where no request says so.</param>
    /// <param name="infant">The infant it was done to.</param>
    public Task RecordAsync(AccessKind kind, Guid? subject = null, string? note = null, Guid? by = null, InfantId? infant = null) =>
        trail.AddAsync(http.HttpContext is { } context
            ? request.Entry(context, kind, infant, subject: subject, note: note, by: by)
            : new() { Kind = kind, Action = "", PersonId = by, InfantId = infant, SubjectId = subject, Note = note });

    /// <summary>A sign-in that failed; anybody can cause as many as they like.</summary>
    /// <param name="person">Whose address was given, when it is somebody's.</param>
    public Task SignInFailedAsync(Guid? person) => trail.AddOfStrangerAsync(
        note => request.Entry(http.HttpContext!, AccessKind.SignInFailed, subject: person, note: note));
}
