using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

public sealed record ReportedScreening(Ear Ear, ScreeningOutcome Outcome, DateTime PerformedAt) : ReportedFact<ReportedScreening>
{
    public ScreeningMethod Method { get; init; }
    public ScreeningReason Reason { get; init; }
    public ScreeningStage Stage { get; init; }
    public string? Instrument { get; init; }
    public string? Probe { get; init; }
    public string? Screener { get; init; }
    public TestDetail? Detail { get; init; }

    public override DateOnly On => DateOnly.FromDateTime(PerformedAt);

    protected override FactVerdict ComparedWith(ReportedScreening recorded, bool sameSite, out ReportedScreening result)
    {
        result = this;
        if (!sameSite || !IsAboutTheSameAs(recorded)) return FactVerdict.New;
        var agrees = Outcome == recorded.Outcome && Reason == recorded.Reason
            && (Method == ScreeningMethod.Unknown || Method == recorded.Method)
            && (Stage == ScreeningStage.Unstated || Stage == recorded.Stage)
            && SaysNoOther(Instrument, recorded.Instrument) && SaysNoOther(Probe, recorded.Probe)
            && SaysNoOther(Screener, recorded.Screener);
        if (!agrees) return FactVerdict.Contradicts;
        var detail = Detail is null ? recorded.Detail : recorded.Detail is null ? Detail : recorded.Detail.CompletedBy(Detail);
        if (detail is null && Detail is not null) return FactVerdict.Contradicts;
        result = recorded with { Detail = detail };
        return result == recorded ? FactVerdict.Same : FactVerdict.Replaces;
    }

    protected override bool IsAboutTheSameAs(ReportedScreening recorded) => Ear == recorded.Ear && PerformedAt == recorded.PerformedAt;

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedScreening>(RowKind.Screening, "screenings", day: "performed_at");
        var ear = table.Code("ear", f => f.Ear);
        var method = table.Code("method", f => f.Method);
        var outcome = table.Code("outcome", f => f.Outcome);
        var reason = table.Code("reason", f => f.Reason);
        var stage = table.Code("stage", f => f.Stage);
        var performed = table.LocalTime("performed_at", f => f.PerformedAt);
        table.ForRules(
            r => new ScreeningTest(ear[r], outcome[r], performed[r])
            {
                Method = method[r],
                Reason = reason[r],
                Stage = stage[r],
                SiteId = r.GetGuid(FactKind.Site),
            },
            (f, all) => f with { Tests = all });
        var instrument = table.Text("instrument", f => f.Instrument);
        var probe = table.Text("probe", f => f.Probe);
        var screener = table.Text("screener", f => f.Screener).NotExported();

        table.DetailIn(WriteTestDetails.Of, WriteTestDetails.RunAsync);
        var measured = table.OfDetail("screening_id", ReadColumns.ValueOrNull<Guid>).NotExported();
        var stimulus = table.OfDetail("stimulus", ReadColumns.TextOrNull);
        var duration = table.OfDetail("duration_seconds", ReadColumns.ValueOrNull<decimal>);
        var artefacts = table.OfDetail("artefacts_rejected", ReadColumns.ValueOrNull<int>);
        var volume = table.OfDetail("ear_canal_volume_ml", ReadColumns.ValueOrNull<decimal>);
        var noise = table.OfDetail("ambient_noise_db", ReadColumns.ValueOrNull<decimal>);
        var bands = table.OfDetail("bands", ReadColumns.TextOrNull);
        table.ReadAs(r => new(ear[r], outcome[r], performed[r])
        {
            Method = method[r],
            Reason = reason[r],
            Stage = stage[r],
            Instrument = instrument[r],
            Probe = probe[r],
            Screener = screener[r],
            Detail = measured[r] is null ? null : new TestDetail
            {
                Stimulus = stimulus[r],
                DurationSeconds = duration[r],
                ArtefactsRejected = artefacts[r],
                EarCanalVolumeMl = volume[r],
                AmbientNoiseDb = noise[r],
                Bands = bands[r] is { } text ? TestDetail.ReadBands(text).Bands : [],
            },
        });
        return table;
    }
}
