using System.Globalization;
using Registry.Records;

namespace Registry.Intake.Rows;

/// <summary>Which rejected row a row of the file of rejected rows is: the end of its <c>problems</c> cell.</summary>
public static class RowMark
{
    /// <summary>What the <c>problems</c> cell of a rejected row ends with.</summary>
    public static string Of(SubmissionId id, int row) => string.Create(CultureInfo.InvariantCulture, $"[row {row} of {id}]");

    /// <summary>The rejected row a <c>problems</c> cell names; null when it names none.</summary>
    public static (Guid Id, int Row)? OriginOf(ReadOnlySpan<char> problems)
    {
        if (!problems.EndsWith("]") || problems.LastIndexOf("[row ") is not (>= 0 and var at)) return null;
        var mark = problems[(at + "[row ".Length)..^1];
        return mark.IndexOf(" of ") is > 0 and var of
            && int.TryParse(mark[..of], NumberStyles.None, CultureInfo.InvariantCulture, out var row)
                && Guid.TryParse(mark[(of + " of ".Length)..], out var id) ? (id, row) : null;
    }
}
