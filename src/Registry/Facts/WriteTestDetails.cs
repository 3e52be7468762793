using Npgsql;
using Registry.Platform.Data;

namespace Registry.Facts;

/// <summary>Writes what the instrument measured in a test, after the screenings it belongs to; nothing is sent when none has any.</summary>
internal static class WriteTestDetails
{
    private const string Measures = "stimulus, duration_seconds, artefacts_rejected, ear_canal_volume_ml, ambient_noise_db";
    private const string BandMeasures = "frequency_hz, level_db_spl, noise_db_spl, snr_db";

    public static FactDetail Of { get; } = new(
        "test_details", "screening_id", [("screening_details", Measures), ("screening_bands", BandMeasures)]);

    public static async Task RunAsync(NpgsqlConnection connection, IReadOnlyList<RecordedFact> screenings, CancellationToken ct)
    {
        var details = screenings.Select(s => (s.Id, ((ReportedScreening)s.Fact).Detail)).Where(d => d.Detail is not null).ToList();
        await CopyRows.RunAsync(
            connection, $"copy screening_details (screening_id, {Measures}) from stdin (format binary)", details, static (w, d) =>
            {
                w.Id(d.Id);
                w.Text(d.Detail!.Stimulus);
                w.Number(d.Detail.DurationSeconds);
                w.Number(d.Detail.ArtefactsRejected);
                w.Number(d.Detail.EarCanalVolumeMl);
                w.Number(d.Detail.AmbientNoiseDb);
            }, ct);
        var bands = details.SelectMany(d => d.Detail!.Bands, (d, b) => (d.Id, Band: b)).ToList();
        await CopyRows.RunAsync(
            connection, $"copy screening_bands (screening_id, {BandMeasures}) from stdin (format binary)", bands, static (w, b) =>
            {
                w.Id(b.Id);
                w.Number(b.Band.FrequencyHz);
                w.Number(b.Band.LevelDbSpl);
                w.Number(b.Band.NoiseDbSpl);
                w.Number(b.Band.SnrDb);
            }, ct);
    }
}
