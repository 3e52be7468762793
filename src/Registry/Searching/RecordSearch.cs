using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Platform;
using Registry.Platform.Encryption;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Work;

namespace Registry.Searching;

/// <summary>A search as a page sends it.</summary>
public sealed record SearchForm
{
    /// <summary>Codes of <see cref="SearchPlace"/>.</summary>
    public string[] Places { get; init; } = [];

    /// <summary>The code of a <see cref="SearchResult"/>; null: none was chosen.</summary>
    public string? Result { get; init; }
    public DateOnly SearchedOn { get; init; }
    public string? Note { get; init; }

    /// <summary>Made with the form: sent twice it is one.</summary>
    public Guid? Key { get; init; }
}

/// <summary>What became of what was sent. Nothing is written but for the first four.</summary>
public enum SearchAnswer
{
    Recorded,
    TakenBack,
    Closed,
    Reopened,

    /// <summary>The same form had come before.</summary>
    Already,

    /// <summary>Or one of another site, or the viewer's role does not search: the answer is the same.</summary>
    NoSuchInfant,
    NotUnderstood,
    NoPlace,
    NoResult,
    InTheFuture,
    TooLong,

    /// <summary>It was taken back before, or is somebody else's.</summary>
    NotYours,
    NothingDue,
    NoReason,

    /// <summary>Somebody closed it, or opened it again, meanwhile.</summary>
    ClosedMeanwhile,
    SearchFirst,
    TooFewTries,
}

/// <summary>Writes down a search for a family, or takes one back. It is never changed or deleted; the infant's work is sorted anew in the
/// same transaction.</summary>
public sealed class RecordSearch(
    RegistryDb db, WriteForInfant write, PolicyStore policies, ProgramClock clock, Viewer viewer, AuditActs audit)
{
    public const int LongestNote = 500;
    public const string NotePlace = "searches.note";

    /// <summary>Who searches for families they see.</summary>
    public bool IsAllowed => viewer is
    {
        PersonId: not null,
        Role: Role.Coordinator or Role.CaseWorker or Role.SiteManager or Role.Screener,
    };

    /// <param name="infant">About whom.</param>
    /// <param name="form">Null when what was sent cannot be read.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<SearchAnswer> AddAsync(InfantId infant, SearchForm? form, CancellationToken ct)
    {
        if (!IsAllowed || !await write.MayAsync(infant, ct)) return SearchAnswer.NoSuchInfant;
        if (form is not { Key: { } key }) return SearchAnswer.NotUnderstood;
        if (form.Places.Length == 0) return SearchAnswer.NoPlace;
        var known = (await policies.InForceAsync(clock.Today, ct)).PlacesToSearch().ToHashSet();
        var places = form.Places.Distinct().Select(code => Codes.TryParse<SearchPlace>(code, out var place) ? place : (SearchPlace?)null)
            .ToList();
        if (places.Exists(place => place is not { } asked || !known.Contains(asked))) return SearchAnswer.NotUnderstood;
        if (!Codes.TryParse<SearchResult>(form.Result, out var result)) return SearchAnswer.NoResult;
        if (form.SearchedOn > clock.Today || form.SearchedOn == default) return SearchAnswer.InTheFuture;
        if (form.Note?.Length > LongestNote) return SearchAnswer.TooLong;
        var made = new SearchRecord
        {
            Id = Guid.CreateVersion7(),
            InfantId = infant,
            SearchedOn = form.SearchedOn,
            LookedAt = [.. places.Select(place => Codes.Of(place!.Value))],
            Result = result,
            Note = FieldKeys.OfProcess.Encrypt(string.IsNullOrWhiteSpace(form.Note) ? null : form.Note.Trim(), NotePlace),
            RecordedAt = clock.Now,
            EnteredBy = viewer.PersonId!.Value,
            EnteredAs = viewer.Role!.Value,
            SiteId = viewer.SiteId,
            FormKey = key,
        };
        var answer = await write.RunAsync(infant, async () =>
        {
            if (await db.Searches.AnyAsync(s => s.FormKey == key, ct)) return SearchAnswer.Already;
            db.Searches.Add(made);
            return SearchAnswer.Recorded;
        }, ct);
        if (answer == SearchAnswer.Recorded)
            await audit.RecordAsync(AccessKind.SearchedFor, made.Id, Codes.Of(result), infant: infant);
        return answer;
    }

    /// <summary>Takes a search back: one's own, or any for the program's people.</summary>
    public async Task<SearchAnswer> TakeBackAsync(InfantId infant, Guid id, CancellationToken ct)
    {
        if (!IsAllowed || !await write.MayAsync(infant, ct)) return SearchAnswer.NoSuchInfant;
        var answer = await write.RunAsync(infant, async () =>
        {
            var search = await db.Searches.SingleOrDefaultAsync(s => s.Id == id && s.InfantId == infant && s.SupersededAt == null, ct);
            if (search is null || !MayTakeBack(search)) return SearchAnswer.NotYours;
            search.SupersededAt = clock.Now;
            return SearchAnswer.TakenBack;
        }, ct);
        if (answer == SearchAnswer.TakenBack) await audit.RecordAsync(AccessKind.SearchedFor, id, "taken_back", infant: infant);
        return answer;
    }

    public bool MayTakeBack(SearchRecord search) =>
        search.SupersededAt is null && (viewer.IsCoordinator || viewer.IsCaseWorker || search.EnteredBy == viewer.PersonId);
}
