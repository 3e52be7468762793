using Registry.Rules.Quality;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>What the parts of a flag are called, and what the comparison said of it beside its name.</summary>
public static partial class SiteWords
{
    /// <summary>"probe P9".</summary>
    public static string Of(CauseFactor part) => part.Kind switch
    {
        CauseKind.Site => "the whole site",
        CauseKind.EarlyTests => "early tests",
        CauseKind.Weekdays => "weekdays",
        CauseKind.Weekends => "weekends",
        CauseKind.Daytime => "daytime",
        CauseKind.NightTime => "night-time",
        _ => $"{Words.Of((Enum)part.Kind).ToLowerInvariant()} {part.Code}",
    };

    /// <summary>"probe P9 or instrument I1", where nothing can tell them apart.</summary>
    private static string Named(QualityFinding f) => string.Join(" or ", f.Named.Same.Prepend(f.Named.Part).Select(Of));

    /// <summary>"raised as screener S1 on 3 Oct 2026"; null where it is named as it was raised.</summary>
    public static string? RaisedAs(QualityFinding f) =>
        f.IsRenamed ? $"raised as {Of(f.Raised)} on {Words.Date(f.RecordedOn)}" : null;

    /// <summary>What else the comparison said of it, in sentences.</summary>
    public static IEnumerable<string> Beside(QualityFinding f)
    {
        var now = f.Named;
        if (now.ExplainedBy is { } by)
            yield return $"Since {Words.Date(now.On)} {Of(by)} explains it: it was a shadow of that flag.";
        if (now.Same.Count > 0)
        {
            yield return Capital(Words.List([.. now.Same.Prepend(now.Part).Select(Of)]))
                + " made the same tests: nothing tells them apart.";
        }

        if (now.Also.Count > 0) yield return $"Unusual of it as well: {Words.List([.. now.Also.Select(Of)])}.";
        if (now.Shadows.Count > 0)
            yield return $"Unusual only because of it, without flags of their own: {Words.List([.. now.Shadows.Select(Of)])}.";
        if (now.Next is { } next) yield return $"Next likely: {Of(next)}.";
    }

    private static string Capital(string said) => char.ToUpperInvariant(said[0]) + said[1..];
}
