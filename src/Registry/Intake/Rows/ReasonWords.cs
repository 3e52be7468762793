using System.Text.RegularExpressions;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Intake.Rows;

/// <summary>
/// Why a row is not taken, as a person reads it on a page. Senders are told in their own terms, the names of columns and codes
/// (<see cref="Problem"/>); here these are called as the page calls them.
/// </summary>
public static partial class ReasonWords
{
    private const string OneOf = "unknown code; it is one of: ";

    /// <summary>How a form is written down, by an example.</summary>
    private static readonly (string Form, string Example)[] Forms =
    [
        ("(yyyy-MM-ddTHH:mm, without offset)", "(such as 2026-11-21T09:15)"), ("(yyyy-MM-dd)", "(such as 2026-11-21)"),
        ("(HH:mm or HH:mm:ss)", "(such as 09:15)"),
    ];

    public static string Of(Problem problem) => Of(problem.Field, problem.Reason);

    /// <summary>With the column it is about in front.</summary>
    public static string Whole(Problem problem) =>
        problem.Field is { } column ? $"{FieldWords.Of(column)}: {Of(problem)}" : Of(problem);

    public static string Of(string? column, string reason)
    {
        var field = Codes.TryParse<Field>(column, out var known) ? known : (Field?)null;
        if (reason.StartsWith(OneOf, StringComparison.Ordinal))
            return "is none of these: " + string.Join(", ", reason[OneOf.Length..].Split(", ").Select(c => ValueWords.Of(c, field) ?? c));
        foreach (var (form, example) in Forms) reason = reason.Replace(form, example, StringComparison.Ordinal);
        return Name().Replace(reason, name => Codes.TryParse<Field>(name.Value, out var other) ? $"“{FieldWords.Of(other)}”"
            : ValueWords.Of(name.Value, field) is { } words ? Words.Within(words) : name.Value);
    }

    /// <summary>A name of a column or a code of several words: one of a single word reads as it is.</summary>
    [GeneratedRegex("[a-z0-9]+(_[a-z0-9]+)+")]
    private static partial Regex Name();
}
