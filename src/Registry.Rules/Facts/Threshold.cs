using System.Globalization;

namespace Registry.Rules.Facts;

/// <summary>By which way a threshold was found: pure tones by air, bone or in the sound field (behavioral, dB HL), or estimated by auditory
/// brainstem response by air or bone (dB nHL or dB eHL, as the evaluation states).</summary>
public enum ThresholdKind { Air, Bone, SoundField, AbrAir, AbrBone }

/// <summary>The softest level with a response at one frequency.</summary>
/// <param name="Kind">By which way.</param>
/// <param name="Ear">The ear; null in the sound field, which tells of no single ear.</param>
/// <param name="FrequencyHz">The frequency; <see cref="Click"/> for a click, which has none.</param>
/// <param name="LevelDb">The level; without a response the level at which none was found.</param>
/// <param name="NoResponse">No response at that level, the highest that was tried.</param>
/// <param name="Masked">The other ear was masked.</param>
/// <remarks>Frequencies: ASHA 2005, Guidelines for Manual Pure-Tone Threshold Audiometry (air 250 to 8000 Hz, 125 Hz under some
/// circumstances; bone 250 to 4000 Hz). Levels: the audiogram's scale, ANSI S3.6 (as quoted by asastandards.org, "audiogram"); the most of
/// bone conduction is common practice, no source.</remarks>
public readonly record struct Threshold(
    ThresholdKind Kind, Ear? Ear, int FrequencyHz, int LevelDb, bool NoResponse = false, bool Masked = false)
{
    public const int Click = 0;
    public const int LeastDb = -10;
    public const int MostDb = 120;
    public const int MostBoneDb = 80;

    /// <summary>Frequencies of an audiogram, in order.</summary>
    public static IReadOnlyList<int> AirFrequencies { get; } = [125, 250, 500, 750, 1000, 1500, 2000, 3000, 4000, 6000, 8000];
    public static IReadOnlyList<int> BoneFrequencies { get; } = [250, 500, 750, 1000, 1500, 2000, 3000, 4000];

    public bool IsAbr => Kind is ThresholdKind.AbrAir or ThresholdKind.AbrBone;

    /// <summary>The most that can be stated of a kind.</summary>
    public static int Most(ThresholdKind kind) => kind is ThresholdKind.Bone or ThresholdKind.AbrBone ? MostBoneDb : MostDb;

    public static IReadOnlyList<int> Frequencies(ThresholdKind kind) =>
        kind is ThresholdKind.Bone or ThresholdKind.AbrBone ? BoneFrequencies : AirFrequencies;

    /// <summary>As it stands in a column: <c>&gt;</c> before the level is no response at it, <c>m</c> behind it is masked.</summary>
    public string Level => FormattableString.Invariant($"{(NoResponse ? ">" : "")}{LevelDb}{(Masked ? "m" : "")}");

    /// <summary>Thresholds as text: <c>Hz:level</c> (or <c>click:level</c>), <c>;</c> between them.</summary>
    public static string Write(IEnumerable<Threshold> thresholds) => string.Join(';', thresholds.Select(t =>
        $"{(t.FrequencyHz == Click ? "click" : t.FrequencyHz.ToString(CultureInfo.InvariantCulture))}:{t.Level}"));

    /// <summary>Reads what <see cref="Write"/> writes; spaces around parts are allowed.</summary>
    /// <returns>In the order given, or what is wrong, in words that repeat no value.</returns>
    public static (IReadOnlyList<Threshold> Thresholds, string? Problem) Read(ThresholdKind kind, Ear? ear, ReadOnlySpan<char> text)
    {
        var read = new List<Threshold>();
        Span<Range> parts = stackalloc Range[3];
        foreach (var range in text.Split(';'))
        {
            var one = text[range].Trim();
            if (one.IsEmpty) continue;
            var number = read.Count + 1;
            if (one.Split(parts, ':') != 2) return ([], $"threshold {number}: is not frequency:level");
            if (ReadFrequency(kind, one[parts[0]].Trim()) is not { } hz)
                return ([], $"threshold {number}: the frequency is not one of {Allowed(kind)}");
            if (read.Exists(t => t.FrequencyHz == hz)) return ([], $"threshold {number}: the frequency is there twice");
            var (level, problem) = ReadLevel(kind, one[parts[1]].Trim());
            if (problem is not null) return ([], $"{(hz == Click ? "click" : $"{hz} Hz")}: {problem}");
            read.Add(level with { Ear = ear, FrequencyHz = hz });
        }

        return read.Count == 0 ? ([], "has no threshold; each is frequency:level, with ; between them") : (read, null);
    }

    /// <summary>A level alone, as it stands in a cell of a form.</summary>
    private static (Threshold Level, string? Problem) ReadLevel(ThresholdKind kind, ReadOnlySpan<char> text)
    {
        var none = text.StartsWith('>');
        if (none) text = text[1..].Trim();
        var masked = text.EndsWith("m", StringComparison.OrdinalIgnoreCase);
        if (masked) text = text[..^1].Trim();
        if (text.Length > 4 || !int.TryParse(text, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var level))
            return (default, "the level is not a whole number of dB (> before it: no response; m behind it: masked)");
        if (level < LeastDb || level > Most(kind)) return (default, $"the level is not between {LeastDb} and {Most(kind)} dB");
        if (masked && kind == ThresholdKind.SoundField) return (default, "nothing is masked in the sound field");
        return (new(kind, null, 0, level, none, masked), null);
    }

    private static int? ReadFrequency(ThresholdKind kind, ReadOnlySpan<char> text)
    {
        var abr = kind is ThresholdKind.AbrAir or ThresholdKind.AbrBone;
        if (abr && text.Equals("click", StringComparison.OrdinalIgnoreCase)) return Click;
        var isNumber = int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var hz);
        return isNumber && Frequencies(kind).Contains(hz) ? hz : null;
    }

    private static string Allowed(ThresholdKind kind) => string.Join(", ", Frequencies(kind))
        + (kind is ThresholdKind.AbrAir or ThresholdKind.AbrBone ? " Hz or click" : " Hz");
}
