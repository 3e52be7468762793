using System.Globalization;
using System.Net.Mime;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
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
public abstract class TypingModel(TypeRows type, OpenRecord records, SiteChoices choices, FindSite sites, Viewer viewer, AsOf asOf)
    : PageModel
{
    /// <summary>The infant; null for one that is born.</summary>
    [FromRoute(Name = "id")] public Guid? Id { get; set; }

    /// <summary>The page the form was opened from, as it states it (<see cref="BackTo"/>).</summary>
    [FromQuery(Name = "back")] public string? AskedBack { get; set; }

    /// <summary>Where the person was; null: nowhere in particular.</summary>
    public string? Back => BackTo.Ours(Url, AskedBack, Id);

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

    /// <summary>What is wrong with the form as a whole.</summary>
    public string? Refused { get; private set; }

    private SubmissionId? _saved;

    /// <summary>The rows the form states.</summary>
    protected abstract IReadOnlyList<TypedRow> Rows(SiteId site);

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

    /// <summary>What a form begins with.</summary>
    protected virtual Task BeginAsync(CancellationToken ct) => Task.CompletedTask;

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        if (!await OpenAsync(ct)) return NotFound();
        Form.Key = Guid.CreateVersion7();
        Form.Seen = Seen();
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
        if (await SiteAsync(ct) is not { } known) return Again(NoSite);
        var rows = Rows(known);
        // What was sent before is not asked about again: its own rows would look like news.
        if (rows.Count > 0 && await type.WasSentAsync(known, Form.Key, ct)) return await SaveAsync(known, rows, ct);
        if (IsNews())
        {
            var until = SeenUntil();
            Meanwhile = [.. Record!.TimeLine.Where(e => TicksOf(e) > until)];
            Form.Seen = Seen();
            Response.StatusCode = StatusCodes.Status409Conflict;
            return Page();
        }

        if (rows.Count == 0) return Again(TypingWords.NothingTyped);
        if ((!Form.Confirmed || IsForThisInfantOnly) && await IsInDoubtAsync(known, rows, ct)) return Page();
        return await SaveAsync(known, rows, ct);
    }

    private async Task<IActionResult> SaveAsync(SiteId site, IReadOnlyList<TypedRow> rows, CancellationToken ct)
    {
        if ((_saved = await type.SaveAsync(site, rows, Form.Key, ct)) is not { } saved) return Again(TypingWords.NotStored);
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

    /// <summary>The columns that say who the rows are about, as the record knows it: the site's own number, else a card, and the
    /// birth.</summary>
    protected IEnumerable<KeyValuePair<Field, string>> Who(SiteId site)
    {
        if (Record is null) yield break;
        var numbers = Record.TimeLine.Where(e => e.SupersededAt is null).Select(e => e.Identifier).OfType<InfantIdentifier>().ToList();
        var own = numbers.Find(n => n.SiteId == site && n.Kind == IdentifierKind.RecordNumber);
        if (own is not null) yield return new(Field.RecordNumber, own.Value);
        else if (numbers.Find(n => n.Kind == IdentifierKind.CardId) is { } card) yield return new(Field.CardId, card.Value);
        if (Record.Birth is not { } birth) yield break;
        yield return new(Field.BirthDate, Day(birth.BornOn));
        if (birth.Sex != Sex.Unknown) yield return new(Field.Sex, Codes.Of(birth.Sex));
        if (birth.MotherGivenName is { } given) yield return new(Field.MotherGivenName, given);
        if (birth.MotherFamilyName is { } family) yield return new(Field.MotherFamilyName, family);
        if (birth.MotherBornOn is { } born) yield return new(Field.MotherBirthDate, Day(born));
        if (birth.BirthOrder is { } order) yield return new(Field.BirthOrder, order.ToString(CultureInfo.InvariantCulture));
    }

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

        if (IsForThisInfantOnly && trial.Outcomes.Any(o => IsRecorded(o) && o.InfantId?.Value != Id))
        {
            Again(TypingWords.AnotherInfant);
            return true;
        }

        if (Form.Confirmed) return false;
        var unsure = new List<RowReport>();
        foreach (var row in trial.Outcomes)
            if (row.Outcome != Codes.Of(RowOutcome.Accepted) || await IsKnownAsync(row, ct)) unsure.Add(row);
        (Unsure, Doubts) = (unsure, [.. trial.Outcomes.Where(o => o.Outcome == Codes.Of(RowOutcome.Accepted)).SelectMany(o => o.Problems)]);
        return Unsure.Count + Doubts.Count > 0;
    }

    private static bool IsRecorded(RowReport row) =>
        row.Outcome == Codes.Of(RowOutcome.Accepted) || row.Outcome == Codes.Of(RowOutcome.Unchanged);

    /// <summary>A birth that falls to an infant the viewer sees already; one that would be made is nowhere yet.</summary>
    private async Task<bool> IsKnownAsync(RowReport birth, CancellationToken ct) =>
        Id is null && birth.InfantId is { } infant && await records.AsOfAsync(infant, asOf.Today, ct) is not null;

    protected async Task<bool> OpenAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return false;
        Sites = await choices.AllAsync(ct);
        return Id is not { } id || ((Record = await records.AsOfAsync(new(id), asOf.Today, ct)) is { } opened && May(opened));
    }

    private PageResult Again(string why)
    {
        Refused = why;
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return Page();
    }

    /// <summary>Whether something was recorded since: since a list was made, later than it; since a form was opened, anything else than
    /// what it began with.</summary>
    private bool IsNews() => Form.Seen is { Length: > 0 } seen && !seen.Contains('-', StringComparison.Ordinal)
        ? Record?.TimeLine.Any(e => TicksOf(e) > SeenUntil()) ?? false
        : (Form.Seen ?? "") != Seen();

    /// <summary>How much was known of the infant: when the last was said or closed, and how much it is.</summary>
    private string Seen() => Record is null ? "" : string.Create(CultureInfo.InvariantCulture,
        $"{Record.TimeLine.Select(TicksOf).DefaultIfEmpty().Max()}-{Record.TimeLine.Count}");

    private long SeenUntil() =>
        long.TryParse(Form.Seen?.Split('-')[0], NumberStyles.None, CultureInfo.InvariantCulture, out var ticks) ? ticks : 0;

    private static long TicksOf(TimeLineEntry entry) => (entry.SupersededAt ?? entry.Said.RecordedAt).UtcTicks;

    protected static string Day(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
}

/// <summary>What every such form carries.</summary>
public sealed class TypedForm
{
    /// <summary>Made with the form: sent twice it is one submission.</summary>
    public Guid Key { get; set; }

    /// <summary>What was known when it was opened, or the moment the list was made that it was entered from.</summary>
    public string? Seen { get; set; }

    /// <summary>For which site; for the program's people.</summary>
    public string? Site { get; set; }

    /// <summary>The person saw what would become of it.</summary>
    public bool Confirmed { get; set; }

    /// <summary>What stands in the columns, by their codes; a screen's have the ear behind them.</summary>
    public Dictionary<string, string?> Columns { get; set; } = [];

    public string? Of(Field field, string more = "") => Columns.GetValueOrDefault(Codes.Of(field) + more);
}
