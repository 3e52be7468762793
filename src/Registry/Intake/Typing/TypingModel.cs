using System.Net.Mime;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.WebUtilities;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Intake.Typing;

/// <summary>
/// What every form has in common by which a person types rows: for which site, about whom, tried before it is saved. What is wrong is said
/// beside its column and nothing is stored; what would wait, or change nothing, is shown first and sent when the person says so; and where
/// something was recorded since the form was opened, both are shown and neither is lost.
/// </summary>
public abstract class TypingModel(
    TypeRows type, CorrectFact correct, OpenRecord records, SiteChoices choices, FindSite sites, Viewer viewer, AsOf asOf) : PageModel
{
    /// <summary>The infant; null for one that is born.</summary>
    [FromRoute(Name = "id")] public Guid? Id { get; set; }

    /// <summary>The page the form was opened from, as it states it (<see cref="BackTo"/>).</summary>
    [FromQuery(Name = "back")] public string? AskedBack { get; set; }

    /// <summary>Where the person was; null: nowhere in particular.</summary>
    public string? Back => BackTo.Ours(Url, AskedBack, Id);

    /// <summary>The fact that is stated anew, by its id; null: something else is entered.</summary>
    [FromQuery(Name = "corrects")] public Guid? Corrects { get; set; }

    /// <summary>What is corrected, in whose name; null: nothing.</summary>
    public CorrectedFact? Corrected { get; private set; }

    [BindProperty] public TypedForm Form { get; set; } = new();

    public OpenedRecord? Record { get; private set; }
    public IReadOnlyList<Site> Sites { get; private set; } = [];

    /// <summary>What is wrong, and with which row.</summary>
    public IReadOnlyList<(int Row, Problem Problem)> Problems { get; private set; } = [];

    /// <summary>What would become of the rows, when that is something to look at before they are saved.</summary>
    public IReadOnlyList<RowReport> Unsure { get; private set; } = [];

    /// <summary>What was recorded since the form was opened.</summary>
    public IReadOnlyList<TimeLineEntry> Meanwhile { get; private set; } = [];

    /// <summary>What of a row that could be saved does not fit together.</summary>
    public IReadOnlyList<Problem> Doubts { get; private set; } = [];

    /// <summary>What else is to be seen before it is saved, with whose record.</summary>
    public IReadOnlyList<(string Says, InfantId? Infant)> ToLook { get; private set; } = [];

    /// <summary>What is wrong with the form as a whole.</summary>
    public string? Refused { get; private set; }

    private SubmissionId? _saved;

    /// <summary>The form's own address, for a button that says where it sends.</summary>
    public string Address(string? handler = null) => QueryHelpers.AddQueryString(Request.Path, new Dictionary<string, string?>
    {
        ["handler"] = handler,
        ["corrects"] = Corrects?.ToString(),
        ["back"] = AskedBack,
    }.Where(q => q.Value is not null));

    /// <summary>The rows the form states.</summary>
    protected abstract IReadOnlyList<TypedRow> Rows(SiteId site);

    /// <summary>The kind of fact the form corrects; null: it corrects none.</summary>
    protected virtual RowKind? CorrectedKind => null;

    /// <summary>Puts what is recorded into the fields.</summary>
    protected virtual void Fill(IReadOnlyDictionary<Field, string> recorded)
    {
        foreach (var (field, value) in recorded) Form.Columns[Codes.Of(field)] = TypingWords.Shown(field, value);
    }

    /// <summary>Finds what the address names; false when there is no such form.</summary>
    protected virtual Task<bool> FindAsync(CancellationToken ct) => Task.FromResult(true);

    /// <summary>Whether something may be typed about the infant that was opened.</summary>
    protected virtual bool May(OpenedRecord record) => true;

    /// <summary>For which site it is entered; null: for none that is known.</summary>
    protected virtual Task<SiteId?> SiteAsync(CancellationToken ct) =>
        sites.ForAsync(viewer.SiteId is null ? Form.Site ?? "-" : null, viewer, ct);

    /// <summary>Why there is no site.</summary>
    protected virtual string NoSite => TypingWords.ChooseSite;

    /// <summary>What is typed is for this infant alone: what would fall to another is refused, and not asked about.</summary>
    protected virtual bool IsForThisInfantOnly => false;

    /// <summary>What a form shows in any case before it is saved.</summary>
    protected virtual Task<IReadOnlyList<(string Says, InfantId? Infant)>> LookFirstAsync(CancellationToken ct) =>
        Task.FromResult<IReadOnlyList<(string, InfantId?)>>([]);

    private bool IsOfOne => IsForThisInfantOnly || Corrected is not null;

    /// <summary>What a form begins with.</summary>
    protected virtual Task BeginAsync(CancellationToken ct) => Task.CompletedTask;

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        if (!await OpenAsync(ct)) return NotFound();
        Form.Key = Guid.CreateVersion7();
        Form.Seen = SeenOfRecord.Of(Record);
        if (Corrected is { } corrected)
        {
            if (corrected.Entry.SupersededAt is not null) return NotFound();
            Fill(await correct.ColumnsAsync(corrected.Entry.Fact!, ct));
            return Page();
        }

        Form.Site = SiteChoices.CodeOf(Sites, Record?.Status?.ResponsibleSiteId);
        await BeginAsync(ct);
        return Page();
    }

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        var page = await AnswerAsync(ct);
        // A page that keeps entries itself is told, and shows it where the entry stands.
        return page is not NotFoundResult && Request.Headers.Accept == MediaTypeNames.Application.Json ? new JsonResult(Told()) : page;
    }

    /// <summary>What a problem of a row is about, where a form has several rows.</summary>
    protected virtual string? PartOf(int row) => null;

    private async Task<IActionResult> AnswerAsync(CancellationToken ct)
    {
        if (!await OpenAsync(ct)) return NotFound();
        if ((Corrected?.Site ?? await SiteAsync(ct)) is not { } known) return Again(NoSite);
        var rows = Rows(known);
        // What was sent before is not asked about again: its own rows would look like news.
        if (rows.Count > 0 && await type.SentAsync(known, Form.Key, ct) is { } sent) return await SentBeforeAsync(known, sent, rows, ct);
        if (SeenOfRecord.IsNews(Record, Form.Seen))
        {
            Meanwhile = [.. SeenOfRecord.Since(Record!, Form.Seen)];
            Form.Seen = SeenOfRecord.Of(Record);
            Response.StatusCode = StatusCodes.Status409Conflict;
            return Page();
        }

        if (rows.Count == 0) return Again(TypingWords.NothingTyped);
        if (Corrected is { } corrected)
        {
            if (corrected.Standing is null) return Again(TypingWords.TakenBackSince);
            if (await correct.RowsAsync(corrected, Record!, rows[0], Who(known), ct) is not { } both)
                return Again(TypingWords.SaidSeveralTimes);
            rows = both;
        }

        if ((!Form.Confirmed || IsOfOne) && await IsInDoubtAsync(known, rows, ct)) return Page();
        return await SaveAsync(known, rows, ct);
    }

    /// <summary>The same again is answered alike; something else under its key is not stored.</summary>
    private async Task<IActionResult> SentBeforeAsync(SiteId site, SubmissionId sent, IReadOnlyList<TypedRow> rows, CancellationToken ct)
    {
        if (Corrected is null) return await SaveAsync(site, rows, ct);
        return await type.EndsWithAsync(sent, rows[0], ct) ? await SavedAsync(sent, ct) : Again(TypingWords.NotStored);
    }

    private async Task<IActionResult> SaveAsync(SiteId site, IReadOnlyList<TypedRow> rows, CancellationToken ct) =>
        await type.SaveAsync(site, rows, Form.Key, ct) is { } saved ? await SavedAsync(saved, ct) : Again(TypingWords.NotStored);

    private async Task<IActionResult> SavedAsync(SubmissionId saved, CancellationToken ct)
    {
        _saved = saved;
        if (Back is not { } back || !await type.WasAllRecordedAsync(saved, ct)) return LocalRedirect(BackTo.Entered(saved, Back));
        TempData["Done"] = TypingWords.Recorded;
        TempData["Entered"] = BackTo.Entered(saved, back);
        return LocalRedirect(back);
    }

    private TypedAnswer Told() => new(
        _saved?.Value,
        Refused is { } refused ? [refused] : [.. Problems.Select(p => TypingWords.Problem(p.Problem, PartOf(p.Row)))],
        [.. Meanwhile.Select(TypingWords.Meanwhile), .. Doubts.Select(d => TypingWords.Problem(d)), .. Unsure.Select(TypingWords.Unsure)],
        _saved is null ? Form.Seen : type.Moment);

    /// <summary>Whom the rows are about.</summary>
    protected IEnumerable<KeyValuePair<Field, string>> Who(SiteId site) => WhomToName.Of(Record, site);

    private async Task<bool> IsInDoubtAsync(SiteId site, IReadOnlyList<TypedRow> rows, CancellationToken ct)
    {
        if (await type.TryAsync(site, rows, ct) is not { } trial)
        {
            Again(TypingWords.NotStored);
            return true;
        }

        Problems = [.. trial.Errors.Select(e => (0, new Problem(e.Field, e.Reason))),
            .. trial.Outcomes.Where(o => o.Outcome == Codes.Of(RowOutcome.Rejected)).SelectMany(o => o.Problems.Select(p => (o.Row, p)))];
        if (Problems.Count > 0)
        {
            Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
            return true;
        }

        var refused = IsOfOne && trial.Outcomes.Any(o => IsRecorded(o) && o.InfantId?.Value != Id) ? TypingWords.AnotherInfant
            : Corrected is not null && rows.Count > 1 && trial.Accepted < rows.Count ? TypingWords.HalfCorrected : null;
        if (refused is not null)
        {
            Again(refused);
            return true;
        }

        if (Form.Confirmed) return false;
        var unsure = new List<RowReport>();
        foreach (var row in trial.Outcomes)
            if (row.Outcome != Codes.Of(RowOutcome.Accepted) || await IsKnownAsync(row, ct)) unsure.Add(row);
        (Unsure, Doubts) = (unsure, [.. trial.Outcomes.Where(o => o.Outcome == Codes.Of(RowOutcome.Accepted)).SelectMany(o => o.Problems)]);
        ToLook = await LookFirstAsync(ct);
        return Unsure.Count + Doubts.Count + ToLook.Count > 0;
    }

    private static bool IsRecorded(RowReport row) =>
        row.Outcome == Codes.Of(RowOutcome.Accepted) || row.Outcome == Codes.Of(RowOutcome.Unchanged);

    /// <summary>A birth that falls to an infant the viewer sees already; one that would be made is nowhere yet.</summary>
    private async Task<bool> IsKnownAsync(RowReport birth, CancellationToken ct) =>
        Id is null && birth.InfantId is { } infant && await records.AsOfAsync(infant, asOf.Today, ct) is not null;

    protected async Task<bool> OpenAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return false;
        if (Corrects is null) Sites = await choices.AllAsync(ct);
        if (Id is not { } id) return Corrects is null;
        if ((Record = await records.AsOfAsync(new(id), asOf.Today, ct)) is not { } opened || !May(opened)) return false;
        if (Corrects is not { } fact) return true;
        Corrected = CorrectedKind is { } kind ? CorrectFact.Find(opened, kind, fact, viewer) : null;
        return Corrected is not null;
    }

    private PageResult Again(string why)
    {
        Refused = why;
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return Page();
    }

    protected static string Day(DateOnly day) => WhomToName.Day(day);
}
