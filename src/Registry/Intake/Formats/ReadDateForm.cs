using System.Globalization;

namespace Registry.Intake.Formats;

/// <summary>Reads dates and times written in a form a mapping states, into ours: <c>yyyy-MM-dd</c>, <c>yyyy-MM-ddTHH:mm:ss</c>,
/// <c>HH:mm:ss</c>.</summary>
public static class ReadDateForm
{
    private static readonly string[] Parts = ["yyyy", "MM", "M", "dd", "d", "HH", "H", "mm", "ss", "hh", "h", "tt"];

    /// <summary>Only what is read here: numbers of years, months, days, hours, minutes, seconds, am and pm, with punctuation between.
    /// Two-digit years are refused: they do not say the century.</summary>
    public static bool IsForm(string form)
    {
        if (form.Length is 0 or > 40) return false;
        var seen = new HashSet<char>();
        for (var i = 0; i < form.Length;)
        {
            if (!char.IsAsciiLetter(form[i]))
            {
                if (form[i] is '%' or '\\' or '\'' or '"') return false;
                i++;
                continue;
            }

            var run = 1;
            while (i + run < form.Length && form[i + run] == form[i]) run++;
            if (!Parts.Contains(form.Substring(i, run)) || !seen.Add(form[i])) return false;
            i += run;
        }

        var date = seen.Contains('y') && seen.Contains('M') && seen.Contains('d');
        var noDate = !seen.Contains('y') && !seen.Contains('M') && !seen.Contains('d');
        var time = (seen.Contains('H') || (seen.Contains('h') && seen.Contains('t'))) && seen.Contains('m');
        var noTime = !seen.Contains('H') && !seen.Contains('h') && !seen.Contains('m') && !seen.Contains('s') && !seen.Contains('t');
        return (date && (time || noTime)) || (noDate && time);
    }

    /// <summary>The text in our form; null when it is not of the form.</summary>
    public static string? Read(ReadOnlySpan<char> text, string form)
    {
        if (!DateTime.TryParseExact(text, form, CultureInfo.InvariantCulture,
            DateTimeStyles.AllowWhiteSpaces | DateTimeStyles.NoCurrentDateDefault, out var at)) return null;
        var hasDate = form.Contains('y', StringComparison.Ordinal);
        var hasTime = form.Contains('m', StringComparison.Ordinal);
        return at.ToString(hasDate && hasTime ? "yyyy-MM-ddTHH:mm:ss" : hasDate ? "yyyy-MM-dd" : "HH:mm:ss", CultureInfo.InvariantCulture);
    }
}
