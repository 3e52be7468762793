using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.SiteQuality.Flags;

/// <summary>What a form of a flag's page sends.</summary>
public sealed record FlagForm
{
    /// <summary>How many acts the page showed.</summary>
    public int? Acts { get; init; }
    public string? Act { get; init; }
    public string? Words { get; init; }
    public DateOnly? Day { get; init; }
    public string? Reason { get; init; }
}

public enum FlagAnswer
{
    Done, TookBack, NoSuchFlag,

    /// <summary>Somebody did something after the page was shown.</summary>
    Meanwhile,
    WordsNeeded, TooManyWords, DayOfAct, DayOfWatch, ReasonNeeded, IsClosed, IsOpen,

    /// <summary>A later flag of the same stands; this one's history is shown there.</summary>
    AnotherStands,

    /// <summary>What others did is taken back by them or a coordinator, and only the last act.</summary>
    NotYours,
}

/// <summary>Adds what somebody did about a flag, for the manager of its site and the coordinators, or takes the last act back.</summary>
public sealed class ActOnFlag(RegistryDb db, Viewer viewer, ProgramClock clock, TimeProvider time, AuditActs audit)
{
    public const int LongestWords = 1000, LongestWatchDays = 366;
    public const string WordsColumn = "flag_acts.words";

    public async Task<FlagAnswer> RunAsync(string code, Guid id, FlagForm form, CancellationToken ct)
    {
        if (viewer.PersonId is not { } person || await FindAsync(db, viewer, code, id, ct) is not { } flag) return FlagAnswer.NoSuchFlag;
        if (form.Acts != flag.Acts) return FlagAnswer.Meanwhile;
        var takesBack = form.Act == Codes.Of(FlagActKind.TakenBack);
        if (!Codes.TryParse<FlagActKind>(form.Act, out var kind)) return FlagAnswer.NoSuchFlag;
        var acts = await db.FlagActs.AsNoTracking().Where(a => a.FindingId == id).OrderBy(a => a.Number).ToListAsync(ct);
        var last = FlagStanding.Of(acts, clock.DateOf).Last;
        if (await ProblemAsync(flag, kind, form, last, person, ct) is { } problem) return problem;
        var words = form.Words?.Trim();
        var act = new FlagAct
        {
            FindingId = id,
            Number = flag.Acts + 1,
            Kind = kind,
            At = Now(),
            PersonId = person,
            Day = kind is FlagActKind.Acted or FlagActKind.Watched ? form.Day : null,
            Reason = kind == FlagActKind.Closed && Codes.TryParse<ClosingReason>(form.Reason, out var reason) ? reason : null,
            Words = takesBack || string.IsNullOrEmpty(words) ? null : FieldKeys.OfProcess.Encrypt(words, WordsColumn),
            TakesBack = takesBack ? last!.Number : null,
        };
        var standing = FlagStanding.Of([.. acts, act], clock.DateOf);
        (flag.Acts, flag.State) = (act.Number, standing.State);
        (flag.WatchedUntil, flag.ClosedOn) = (standing.WatchedUntil, standing.ClosedOn);
        db.FlagActs.Add(act);
        try
        {
            await db.SaveChangesAsync(ct);
        }
        catch (DbUpdateException e) when (e is DbUpdateConcurrencyException
            || e.InnerException is PostgresException { SqlState: PostgresErrorCodes.UniqueViolation })
        {
            db.ChangeTracker.Clear();
            return FlagAnswer.Meanwhile;
        }

        await audit.RecordAsync(AccessKind.FlagActedOn, id, Codes.Of(kind));
        return takesBack ? FlagAnswer.TookBack : FlagAnswer.Done;
    }

    /// <summary>A flag of a site, for who may answer for it.</summary>
    public static async Task<QualityFinding?> FindAsync(RegistryDb db, Viewer viewer, string code, Guid id, CancellationToken ct) =>
        await db.QualityFindings.FirstOrDefaultAsync(f => f.Id == id && db.Sites.Any(s => s.Id == f.SiteId && s.Code == code), ct)
            is { } flag && viewer.MaySee(flag.SiteId) ? flag : null;

    /// <summary>Of the pinned day where the program has one, in its order on that day.</summary>
    private DateTimeOffset Now() => clock.DateOf(time.GetUtcNow()) == clock.Today ? time.GetUtcNow() : clock.Now;

    private async Task<FlagAnswer?> ProblemAsync(
        QualityFinding flag, FlagActKind kind, FlagForm form, FlagAct? last, Guid person, CancellationToken ct)
    {
        var length = form.Words?.Trim().Length ?? 0;
        if (length > LongestWords) return FlagAnswer.TooManyWords;
        if (kind is FlagActKind.Explained or FlagActKind.Acted && length == 0) return FlagAnswer.WordsNeeded;
        if (kind == FlagActKind.Acted && !(form.Day <= clock.Today && form.Day >= flag.OnsetFirst.AddYears(-1)))
            return FlagAnswer.DayOfAct;
        if (kind == FlagActKind.Watched && !(form.Day > clock.Today && form.Day <= clock.Today.AddDays(LongestWatchDays)))
            return FlagAnswer.DayOfWatch;
        if (kind == FlagActKind.Closed && !Codes.TryParse<ClosingReason>(form.Reason, out _)) return FlagAnswer.ReasonNeeded;
        if (kind == FlagActKind.TakenBack && (last is null || !(last.PersonId == person || viewer.IsCoordinator)))
            return FlagAnswer.NotYours;
        if (kind is not (FlagActKind.Reopened or FlagActKind.TakenBack) && flag.ClosedOn is not null) return FlagAnswer.IsClosed;
        if (kind == FlagActKind.Reopened && flag.ClosedOn is null) return FlagAnswer.IsOpen;
        var opens = kind == FlagActKind.Reopened || kind == FlagActKind.TakenBack && last!.Kind == FlagActKind.Closed;
        return opens && await AnotherStandsAsync(flag, ct) ? FlagAnswer.AnotherStands : null;
    }

    private Task<bool> AnotherStandsAsync(QualityFinding flag, CancellationToken ct) =>
        db.QualityFindings.AnyAsync(f => f.Id != flag.Id && f.SiteId == flag.SiteId && f.FoundCause == flag.FoundCause
            && f.FoundName == flag.FoundName && f.Measure == flag.Measure && f.Above == flag.Above && f.ClosedOn == null, ct);
}
