using System.Globalization;

namespace Registry.Rules.Facts;

/// <summary>One frequency band of an emission test: emission level and noise floor in dB SPL at the ear canal's microphone,
/// signal-to-noise ratio in dB. Null is not stated.</summary>
public readonly record struct TestBand(int FrequencyHz, decimal? LevelDbSpl, decimal? NoiseDbSpl, decimal? SnrDb)
{
    /// <summary>The stated ratio, else level less noise floor; null when neither can be had.</summary>
    public decimal? Snr => SnrDb ?? LevelDbSpl - NoiseDbSpl;
}

/// <summary>What an instrument measured in one test of one ear, beside the outcome. Null (and no bands) is not stated.</summary>
/// <remarks>Limits of plausibility (<see cref="Limits"/>) are common practice, no source; they keep out slips of unit and column.</remarks>
public sealed record TestDetail
{
    /// <summary>The stimulus in the instrument's own words, level and kind.</summary>
    public string? Stimulus { get; init; }
    public decimal? DurationSeconds { get; init; }
    public int? ArtefactsRejected { get; init; }
    public decimal? EarCanalVolumeMl { get; init; }

    /// <summary>Ambient noise in dB SPL, as the instrument reports it.</summary>
    public decimal? AmbientNoiseDb { get; init; }

    /// <summary>In order of frequency, each frequency once.</summary>
    public IReadOnlyList<TestBand> Bands { get; init => field = [.. value.OrderBy(b => b.FrequencyHz)]; } = [];

    /// <summary>Least and most of each measure, in the unit its name says.</summary>
    public static class Limits
    {
        public const int MaxBands = 32;
        public static (int Least, int Most) FrequencyHz => (250, 16_000);
        public static (decimal Least, decimal Most) LevelDb => (-60, 90);
        public static (decimal Least, decimal Most) DurationSeconds => (0.1m, 3_600);
        public static (int Least, int Most) ArtefactsRejected => (0, 1_000_000);
        public static (decimal Least, decimal Most) EarCanalVolumeMl => (0, 5);
        public static (decimal Least, decimal Most) AmbientNoiseDb => (0, 120);
    }

    /// <summary>Nothing at all is stated.</summary>
    public bool IsEmpty => this == new TestDetail();

    public bool Equals(TestDetail? other) => other is not null
        && Stimulus == other.Stimulus && DurationSeconds == other.DurationSeconds && ArtefactsRejected == other.ArtefactsRejected
        && EarCanalVolumeMl == other.EarCanalVolumeMl && AmbientNoiseDb == other.AmbientNoiseDb && Bands.SequenceEqual(other.Bands);

    public override int GetHashCode() =>
        HashCode.Combine(Stimulus, DurationSeconds, ArtefactsRejected, EarCanalVolumeMl, AmbientNoiseDb, Bands.Count);

    /// <summary>This detail with what a later statement adds; null when the two contradict each other.</summary>
    public TestDetail? CompletedBy(TestDetail row)
    {
        var both = new TestDetail
        {
            Stimulus = Stimulus ?? row.Stimulus,
            DurationSeconds = DurationSeconds ?? row.DurationSeconds,
            ArtefactsRejected = ArtefactsRejected ?? row.ArtefactsRejected,
            EarCanalVolumeMl = EarCanalVolumeMl ?? row.EarCanalVolumeMl,
            AmbientNoiseDb = AmbientNoiseDb ?? row.AmbientNoiseDb,
            Bands = Bands.Count > 0 ? Bands : row.Bands,
        };
        var agrees = SaysNoOther(row.Stimulus, both.Stimulus) && SaysNoOther(row.DurationSeconds, both.DurationSeconds)
            && SaysNoOther(row.ArtefactsRejected, both.ArtefactsRejected) && SaysNoOther(row.EarCanalVolumeMl, both.EarCanalVolumeMl)
            && SaysNoOther(row.AmbientNoiseDb, both.AmbientNoiseDb) && (row.Bands.Count == 0 || row.Bands.SequenceEqual(both.Bands));
        return agrees ? both : null;
    }

    /// <summary>Bands as text: <c>Hz:level:noise floor:signal-to-noise ratio</c>, <c>;</c> between them, unstated parts blank.</summary>
    public static string WriteBands(IEnumerable<TestBand> bands) => string.Join(';', bands.Select(b =>
        FormattableString.Invariant($"{b.FrequencyHz}:{b.LevelDbSpl}:{b.NoiseDbSpl}:{b.SnrDb}").TrimEnd(':')));

    /// <summary>Reads what <see cref="WriteBands"/> writes; spaces around parts are allowed.</summary>
    /// <returns>The bands in the order given, or what is wrong, in words that repeat no value.</returns>
    public static (IReadOnlyList<TestBand> Bands, string? Problem) ReadBands(ReadOnlySpan<char> text)
    {
        var bands = new List<TestBand>();
        Span<Range> parts = stackalloc Range[5];
        foreach (var range in text.Split(';'))
        {
            var band = text[range].Trim();
            if (band.IsEmpty) continue;
            var number = bands.Count + 1;
            if (number > Limits.MaxBands) return ([], $"has more than {Limits.MaxBands} bands");
            var count = band.Split(parts, ':');
            if (count > 4) return ([], $"band {number}: has more than the four parts Hz:level:noise:snr");
            if (!int.TryParse(band[parts[0]].Trim(), NumberStyles.None, CultureInfo.InvariantCulture, out var hz))
                return ([], $"band {number}: the frequency is not a whole number of Hz");
            if (hz < Limits.FrequencyHz.Least || hz > Limits.FrequencyHz.Most)
                return ([], $"band {number}: the frequency is not between {Limits.FrequencyHz.Least} and {Limits.FrequencyHz.Most} Hz");
            if (bands.Exists(b => b.FrequencyHz == hz)) return ([], $"band {number}: the frequency is there twice");
            var values = new decimal?[3];
            for (var part = 1; part < count; part++)
            {
                var value = band[parts[part]].Trim();
                if (value.IsEmpty) continue;
                var name = part switch { 1 => "level", 2 => "noise floor", _ => "signal-to-noise ratio" };
                if (!TryDecimal(value, out var db)) return ([], $"band {number}: the {name} is not a number with at most two decimals");
                if (db < Limits.LevelDb.Least || db > Limits.LevelDb.Most)
                    return ([], $"band {number}: the {name} is not between {Limits.LevelDb.Least} and {Limits.LevelDb.Most} dB");
                values[part - 1] = db;
            }

            if (Array.TrueForAll(values, v => v is null)) return ([], $"band {number}: states nothing but its frequency");
            bands.Add(new(hz, values[0], values[1], values[2]));
        }

        return bands.Count == 0 ? ([], "has no band; each is Hz:level:noise:snr, with ; between them") : (bands, null);
    }

    /// <summary>A decimal number with a point, an optional sign and at most two decimals.</summary>
    public static bool TryDecimal(ReadOnlySpan<char> text, out decimal value)
    {
        var point = text.IndexOf('.');
        const NumberStyles Style = NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint;
        return decimal.TryParse(text, Style, CultureInfo.InvariantCulture, out value)
            && text.Length <= 12 && (point < 0 || text.Length - point - 1 <= 2);
    }

    private static bool SaysNoOther<T>(T? row, T? both) => row is null || EqualityComparer<T>.Default.Equals(row, both);
}
