using Npgsql;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

/// <summary>Writes what the tests of an evaluation gave, after the diagnoses they belong to; nothing is sent when none has any.</summary>
internal static class WriteEvaluationDetails
{
    private const string Tests = "behavioral_method, air_transducer, right_tympanogram_low, right_tympanogram_high, left_tympanogram_low, "
        + "left_tympanogram_high, right_emissions, left_emissions, emissions_method, abr_scale, abr_correction";
    private const string Levels = "kind, ear, frequency_hz, level_db, no_response, masked";

    public static FactDetail Of { get; } = new(
        "evaluation_details", "diagnosis_id", [("diagnosis_details", Tests), ("diagnosis_thresholds", Levels)]);

    /// <summary>Lists of thresholds, each a column of the view: which way, whose.</summary>
    public static IReadOnlyList<(string Column, ThresholdKind Kind, Ear? Ear)> Lists { get; } =
    [
        ("right_air", ThresholdKind.Air, Ear.Right), ("left_air", ThresholdKind.Air, Ear.Left),
        ("right_bone", ThresholdKind.Bone, Ear.Right), ("left_bone", ThresholdKind.Bone, Ear.Left),
        ("sound_field", ThresholdKind.SoundField, null),
        ("right_abr", ThresholdKind.AbrAir, Ear.Right), ("left_abr", ThresholdKind.AbrAir, Ear.Left),
        ("right_abr_bone", ThresholdKind.AbrBone, Ear.Right), ("left_abr_bone", ThresholdKind.AbrBone, Ear.Left),
    ];

    public static async Task RunAsync(NpgsqlConnection connection, IReadOnlyList<RecordedFact> diagnoses, CancellationToken ct)
    {
        var details = diagnoses.Select(d => (d.Id, ((ReportedDiagnosis)d.Fact).Detail)).Where(d => d.Detail is not null).ToList();
        await CopyRows.RunAsync(
            connection, $"copy diagnosis_details (diagnosis_id, {Tests}) from stdin (format binary)", details, static (w, d) =>
            {
                var detail = d.Detail!;
                w.Id(d.Id);
                w.Code(detail.BehavioralMethod);
                w.Code(detail.AirTransducer);
                w.Code(detail.RightTympanogramLow);
                w.Code(detail.RightTympanogramHigh);
                w.Code(detail.LeftTympanogramLow);
                w.Code(detail.LeftTympanogramHigh);
                w.Code(detail.RightEmissions);
                w.Code(detail.LeftEmissions);
                w.Code(detail.EmissionsMethod);
                w.Code(detail.AbrScale);
                w.Text(detail.AbrCorrection);
            }, ct);
        var thresholds = details.SelectMany(d => d.Detail!.Thresholds, (d, t) => (d.Id, Threshold: t)).ToList();
        await CopyRows.RunAsync(
            connection, $"copy diagnosis_thresholds (diagnosis_id, {Levels}) from stdin (format binary)", thresholds, static (w, t) =>
            {
                w.Id(t.Id);
                w.Code(t.Threshold.Kind);
                w.Code(t.Threshold.Ear switch
                {
                    Ear.Right => ThresholdEar.Right,
                    Ear.Left => ThresholdEar.Left,
                    _ => ThresholdEar.Both,
                });
                w.Number(t.Threshold.FrequencyHz);
                w.Number(t.Threshold.LevelDb);
                w.Bool(t.Threshold.NoResponse);
                w.Bool(t.Threshold.Masked);
            }, ct);
    }
}
