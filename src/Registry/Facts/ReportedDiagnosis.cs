using Npgsql;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

public sealed record ReportedDiagnosis(DateOnly EvaluatedOn, EarFinding Right, EarFinding Left) : ReportedFact<ReportedDiagnosis>
{
    public LossDegree RightDegree { get; init; }
    public LossDegree LeftDegree { get; init; }
    public bool Provisional { get; init; }
    public bool? Permanent { get; init; }

    /// <summary>The day the audiologist wants to see the child again.</summary>
    public DateOnly? NextOn { get; init; }
    public string? Evaluator { get; init; }
    public string? Place { get; init; }
    public EvaluationDetail? Detail { get; init; }

    public override DateOnly On => EvaluatedOn;

    protected override FactVerdict ComparedWith(ReportedDiagnosis recorded, bool sameSite, out ReportedDiagnosis result)
    {
        result = this;
        if (!sameSite || !IsAboutTheSameAs(recorded)) return FactVerdict.New;
        var both = this with { Evaluator = recorded.Evaluator ?? Evaluator, Place = recorded.Place ?? Place };
        var agrees = SaysNoOther(Evaluator, both.Evaluator) && SaysNoOther(Place, both.Place)
            && both with { Detail = null } == recorded with { Evaluator = both.Evaluator, Place = both.Place, Detail = null };
        if (!agrees) return FactVerdict.Contradicts;
        var detail = Detail is null ? recorded.Detail : recorded.Detail is null ? Detail : recorded.Detail.CompletedBy(Detail);
        if (detail is null && Detail is not null) return FactVerdict.Contradicts;
        result = both with { Detail = detail };
        return result == recorded ? FactVerdict.Same : FactVerdict.Replaces;
    }

    protected override bool IsAboutTheSameAs(ReportedDiagnosis recorded) => EvaluatedOn == recorded.EvaluatedOn;

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedDiagnosis>(RowKind.Diagnosis, "diagnoses", day: "evaluated_on");
        var evaluated = table.Date("evaluated_on", f => f.EvaluatedOn);
        var right = table.Code("right_finding", f => f.Right);
        var left = table.Code("left_finding", f => f.Left);
        var rightDegree = table.Code("right_degree", f => f.RightDegree);
        var leftDegree = table.Code("left_degree", f => f.LeftDegree);
        var provisional = table.Bool("provisional", f => f.Provisional);
        var permanent = table.Bool("permanent", f => f.Permanent);
        var next = table.Date("next_on", f => f.NextOn);
        table.ForRules(
            r => new DiagnosticEvaluation(evaluated[r], right[r], left[r])
            {
                RightDegree = rightDegree[r],
                LeftDegree = leftDegree[r],
                Provisional = provisional[r],
                Permanent = permanent[r],
                NextOn = next[r],
            },
            (f, all) => f with { Evaluations = all });
        var evaluator = table.Text("evaluator", f => f.Evaluator).NotExported();
        var place = table.Text("evaluation_place", f => f.Place).NotExported();
        var detail = DetailOf(table);
        table.ReadAs(r => new(evaluated[r], right[r], left[r])
        {
            RightDegree = rightDegree[r],
            LeftDegree = leftDegree[r],
            Provisional = provisional[r],
            Permanent = permanent[r],
            NextOn = next[r],
            Evaluator = evaluator[r],
            Place = place[r],
            Detail = detail(r),
        });
        return table;
    }

    private static Func<NpgsqlDataReader, EvaluationDetail?> DetailOf(FactTable<ReportedDiagnosis> table)
    {
        table.DetailIn(WriteEvaluationDetails.Of, WriteEvaluationDetails.RunAsync);
        var tested = table.OfDetail("diagnosis_id", ReadColumns.ValueOrNull<Guid>).NotExported();
        var method = table.OfDetail("behavioral_method", ReadColumns.CodeOrNull<BehavioralMethod>);
        var transducer = table.OfDetail("air_transducer", ReadColumns.CodeOrNull<AirTransducer>);
        var rightLow = table.OfDetail("right_tympanogram_low", ReadColumns.CodeOrNull<Tympanogram>);
        var rightHigh = table.OfDetail("right_tympanogram_high", ReadColumns.CodeOrNull<Tympanogram>);
        var leftLow = table.OfDetail("left_tympanogram_low", ReadColumns.CodeOrNull<Tympanogram>);
        var leftHigh = table.OfDetail("left_tympanogram_high", ReadColumns.CodeOrNull<Tympanogram>);
        var rightEmissions = table.OfDetail("right_emissions", ReadColumns.CodeOrNull<Emissions>);
        var leftEmissions = table.OfDetail("left_emissions", ReadColumns.CodeOrNull<Emissions>);
        var emissionsBy = table.OfDetail("emissions_method", ReadColumns.CodeOrNull<ScreeningMethod>);
        var scale = table.OfDetail("abr_scale", ReadColumns.CodeOrNull<AbrScale>);
        var correction = table.OfDetail("abr_correction", ReadColumns.TextOrNull);
        var lists = WriteEvaluationDetails.Lists
            .Select(l => (l.Kind, l.Ear, Text: table.OfDetail(l.Column, ReadColumns.TextOrNull))).ToList();
        return r => tested[r] is null ? null : new EvaluationDetail
        {
            BehavioralMethod = method[r],
            AirTransducer = transducer[r],
            RightTympanogramLow = rightLow[r],
            RightTympanogramHigh = rightHigh[r],
            LeftTympanogramLow = leftLow[r],
            LeftTympanogramHigh = leftHigh[r],
            RightEmissions = rightEmissions[r],
            LeftEmissions = leftEmissions[r],
            EmissionsMethod = emissionsBy[r],
            AbrScale = scale[r],
            AbrCorrection = correction[r],
            Thresholds = [.. lists.SelectMany(l => l.Text[r] is { } text ? Threshold.Read(l.Kind, l.Ear, text).Thresholds : [])],
        };
    }
}
