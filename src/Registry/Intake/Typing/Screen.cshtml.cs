using Microsoft.AspNetCore.Authorization;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Intake.Receiving;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Intake.Typing;

/// <summary>Both ears' screen in one form: a row for each ear that was looked at.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants, LimitedIntake]
public sealed class ScreenModel(
    TypeRows type, CorrectFact correct, OpenRecord records, SiteChoices choices, FindSite sites, RememberInstrument remember,
    ProgramClock clock, Viewer viewer, AsOf asOf)
    : TypingModel(type, correct, records, choices, sites, viewer, asOf)
{
    private readonly Viewer _viewer = viewer;

    public ScreenFields Fields => new(Form, Day(clock.Today),
        [.. Problems.Select(p => (EarOf(p.Row), p.Problem)).Where(p => p.Item1 is not null).Select(p => (p.Item1!.Value, p.Problem))]);

    protected override string? PartOf(int row) => EarOf(row) is { } ear ? TypingWords.Of(ear) : null;

    /// <summary>The ear of a row, counted from 1.</summary>
    private Ear? EarOf(int row) => row > 0 ? Ears().Cast<Ear?>().ElementAtOrDefault(row - 1) : null;

    private IEnumerable<Ear> Ears() => Enum.GetValues<Ear>().Where(ear => Form.Of(Field.Outcome, $"_{Codes.Of(ear)}") is { Length: > 0 });

    protected override async Task BeginAsync(CancellationToken ct)
    {
        var now = TimeZoneInfo.ConvertTime(clock.Now, clock.Zone);
        var (method, instrument) = await remember.OfAsync(_viewer, ct);
        Form.Columns["day"] = Day(clock.Today);
        Form.Columns["time"] = $"{now.Hour:00}:{now.Minute:00}";
        Form.Columns[Codes.Of(Field.Method)] = method is { } m ? Codes.Of(m) : null;
        Form.Columns[Codes.Of(Field.Instrument)] = instrument;
    }

    protected override IReadOnlyList<TypedRow> Rows(SiteId site)
    {
        var who = new Dictionary<Field, string>(Who(site));
        var (day, time) = (Form.Columns.GetValueOrDefault("day"), Form.Columns.GetValueOrDefault("time"));
        return [.. Ears().Select(ear =>
        {
            var outcome = Form.Of(Field.Outcome, $"_{Codes.Of(ear)}")!;
            var columns = new Dictionary<Field, string>(who)
            {
                [Field.Ear] = Codes.Of(ear),
                [Field.Outcome] = outcome,
                [Field.PerformedAt] = $"{day}T{time}",
                [Field.Screener] = RememberInstrument.NameOf(_viewer),
            };
            foreach (var field in ScreenFields.OfTest)
                if (Form.Of(field) is { Length: > 0 } stated) columns[field] = stated;
            // What an instrument measured belongs to a test that was done.
            if (outcome != Codes.Of(ScreeningOutcome.NotPerformed))
                foreach (var field in ScreenFields.OfEar)
                    if (Form.Of(field, $"_{Codes.Of(ear)}") is { Length: > 0 } measured) columns[field] = measured;
            if (Form.Of(Field.Method) is { Length: > 0 } method) columns[Field.Method] = method;
            if (Form.Of(Field.Instrument) is { Length: > 0 } instrument) columns[Field.Instrument] = instrument;
            // A reason chosen before the outcome was changed does not belong to a pass or refer.
            if (outcome is not ("pass" or "refer") && Form.Of(Field.Reason, $"_{Codes.Of(ear)}") is { Length: > 0 } reason)
                columns[Field.Reason] = reason;
            return new TypedRow(RowKind.Screening, columns);
        })];
    }
}

/// <summary>What the fields of a screen show.</summary>
/// <param name="Form">What stands in them.</param>
/// <param name="LastDay">The last day a test can have been on; null where only the page knows.</param>
/// <param name="Problems">What is wrong with which ear.</param>
public sealed record ScreenFields(TypedForm Form, string? LastDay, IReadOnlyList<(Ear Ear, Problem Problem)> Problems)
{
    /// <summary>What can be said besides of both ears' tests, folded away: a file may state it too.</summary>
    public static IReadOnlyList<Field> OfTest { get; } = [Field.Stage, Field.Probe, Field.Screener];

    /// <summary>What an instrument measured in one ear.</summary>
    public static IReadOnlyList<Field> OfEar { get; } =
        [Field.Stimulus, Field.DurationSeconds, Field.ArtefactsRejected, Field.EarCanalVolumeMl, Field.AmbientNoiseDb, Field.Bands];

    /// <summary>Something of it is filled in, or wrong: it is not folded away then.</summary>
    public bool SaysMore => OfTest.Any(f => Form.Of(f) is { Length: > 0 })
        || Enum.GetValues<Ear>().Any(ear => OfEar.Any(f => Form.Of(f, $"_{Codes.Of(ear)}") is { Length: > 0 }));
}
