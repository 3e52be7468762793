
namespace Registry.Platform.Csv;

/// <summary>Text that a spreadsheet would run.</summary>
public static class Formula
{
    /// <summary>Would a spreadsheet take the text for a formula, as far as apostrophes in front do not keep it from that.</summary>
    public static bool IsFormula(ReadOnlySpan<char> text) => text.TrimStart('\'') is ['=' or '+' or '-' or '@' or '\t' or '\r', ..];

    public static string Guarded(string text) => IsFormula(text) ? "'" + text : text;
}
