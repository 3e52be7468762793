using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Intake.Receiving;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Audiology;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Intake.Typing;

/// <summary>A diagnostic evaluation: what the tests gave by ear and frequency, and what the audiologist concludes.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants, LimitedIntake]
public sealed class EvaluateModel(
    TypeRows type, CorrectFact correct, OpenRecord records, SiteChoices choices, FindSite sites, RememberEvaluation remember,
    ProgramClock clock, Viewer viewer, AsOf asOf)
    : TypingModel(type, correct, records, choices, sites, viewer, asOf)
{
    private readonly Viewer _viewer = viewer;

    public DateOnly Today => clock.Today;

    /// <summary>What the thresholds suggest, once it was asked for.</summary>
    public IReadOnlyList<(Ear Ear, SuggestedFinding? Found)> Suggested { get; private set; } = [];

    /// <summary>Shows what is typed so far with what it suggests; stores nothing and chooses nothing.</summary>
    public async Task<IActionResult> OnPostSuggestAsync(CancellationToken ct)
    {
        if (!await OpenAsync(ct)) return NotFound();
        Suggested = TypedEvaluation.Suggest(Form);
        return Page();
    }

    protected override async Task BeginAsync(CancellationToken ct)
    {
        Set(Field.EvaluatedOn, Day(clock.Today));
        if (_viewer.SiteId is not null) Set(Field.Evaluator, RememberInstrument.NameOf(_viewer));
        if (await remember.OfAsync(_viewer, ct) is not { } last) return;
        Set(Field.EvaluationPlace, last.Place);
        Set(Field.BehavioralMethod, last.Method is { } method ? Codes.Of(method) : null);
        Set(Field.AirTransducer, last.Transducer is { } transducer ? Codes.Of(transducer) : null);
        Set(Field.EmissionsMethod, last.EmissionsBy is { } by ? Codes.Of(by) : null);
        Set(Field.AbrScale, last.Scale is { } scale ? Codes.Of(scale) : null);
        Set(Field.AbrCorrection, last.Correction);
    }

    protected override RowKind? CorrectedKind => RowKind.Diagnosis;

    protected override void Fill(IReadOnlyDictionary<Field, string> recorded) => TypedEvaluation.Fill(Form, recorded);

    protected override IReadOnlyList<TypedRow> Rows(SiteId site)
    {
        var columns = new Dictionary<Field, string>(Who(site));
        foreach (var (field, value) in TypedEvaluation.Columns(Form)) columns[field] = value;
        if (Corrected is null) ForgetUnused(columns);
        return [new(RowKind.Diagnosis, columns)];
    }

    /// <summary>How one tests is remembered; without a test of that kind it says nothing.</summary>
    private static void ForgetUnused(Dictionary<Field, string> columns)
    {
        if (!TypedEvaluation.Behavioral.Any(columns.ContainsKey)) columns.Remove(Field.BehavioralMethod);
        if (!columns.ContainsKey(Field.RightAir) && !columns.ContainsKey(Field.LeftAir)) columns.Remove(Field.AirTransducer);
        if (!columns.ContainsKey(Field.RightEmissions) && !columns.ContainsKey(Field.LeftEmissions)) columns.Remove(Field.EmissionsMethod);
        if (TypedEvaluation.Abr.Any(columns.ContainsKey)) return;
        columns.Remove(Field.AbrScale);
        columns.Remove(Field.AbrCorrection);
    }

    private void Set(Field field, string? value) => Form.Columns[Codes.Of(field)] = value;
}
