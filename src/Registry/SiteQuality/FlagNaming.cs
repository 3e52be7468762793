using System.Text.Json;
using System.Text.Json.Serialization;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>What a flag is named by, from a night on: the part of the site that explains most, and what else the comparison said of
/// it.</summary>
public sealed record FlagNaming
{
    private static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web)
    {
        Converters = { new JsonStringEnumConverter(JsonNamingPolicy.SnakeCaseLower) },
        PropertyNamingPolicy = JsonNamingPolicy.SnakeCaseLower,
        DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
    };

    /// <summary>The night it was first said.</summary>
    public required DateOnly On { get; init; }
    public required CauseFactor Part { get; init; }

    /// <summary>Since about when, and between which days most likely.</summary>
    public required DateOnly OnsetOn { get; init; }
    public required DateOnly OnsetFirst { get; init; }
    public required DateOnly OnsetLast { get; init; }

    /// <summary>How sure it is that this, of all that was considered, is behind it; null: not kept.</summary>
    public double? Sure { get; init; }

    /// <summary>Parts that made the very same tests: nothing can tell them from it.</summary>
    public IReadOnlyList<CauseFactor> Same { get; init; } = [];

    /// <summary>The next likely; null without one.</summary>
    public CauseFactor? Next { get; init; }

    /// <summary>Other measures that are unusual of the same part.</summary>
    public IReadOnlyList<SessionMeasure> Also { get; init; } = [];

    /// <summary>Parts that look unusual only because of it.</summary>
    public IReadOnlyList<CauseFactor> Shadows { get; init; } = [];

    /// <summary>Named later, of another flag, and explains this one as well; null where none does.</summary>
    public CauseFactor? ExplainedBy { get; init; }

    public static FlagNaming Of(DateOnly night, NamedCause cause) => new()
    {
        On = night,
        Part = cause.Factor,
        OnsetOn = DateOnly.FromDayNumber(cause.Change.Best),
        OnsetFirst = DateOnly.FromDayNumber(cause.Change.First),
        OnsetLast = DateOnly.FromDayNumber(cause.Change.Last),
        Sure = cause.Sure,
        Same = cause.Same,
        Next = cause.Next,
    };

    /// <summary>A night that says this says nothing new: how sure it is and what is next likely moves a little with every late
    /// result.</summary>
    public bool Says(FlagNaming other) => Part == other.Part && ExplainedBy == other.ExplainedBy && Same.SequenceEqual(other.Same)
        && Also.SequenceEqual(other.Also) && Shadows.SequenceEqual(other.Shadows);

    /// <summary>The same with other names of parts.</summary>
    public FlagNaming With(Func<CauseFactor, CauseFactor> named) => this with
    {
        Part = named(Part),
        Same = [.. Same.Select(named)],
        Next = Next is { } next ? named(next) : null,
        Shadows = [.. Shadows.Select(named)],
        ExplainedBy = ExplainedBy is { } by ? named(by) : null,
    };

    public static string Write(IReadOnlyList<FlagNaming> namings) => JsonSerializer.Serialize(namings, Json);

    public static IReadOnlyList<FlagNaming> Read(string document) => JsonSerializer.Deserialize<List<FlagNaming>>(document, Json)!;
}
