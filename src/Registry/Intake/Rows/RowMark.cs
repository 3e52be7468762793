using System.Globalization;
using Registry.Records;

namespace Registry.Intake.Rows;

/// <summary>
/// Names a rejected row at the end of its <c>problems</c> cell in the file of rejected rows, so that it is known when it comes back.
/// </summary>
public readonly record struct RowMark(SubmissionId SubmissionId, int Row)
{
    private const string Opening = "[row ", Between = " of ", Closing = "]";

    public override string ToString() =>
        string.Create(CultureInfo.InvariantCulture, $"{Opening}{Row}{Between}{SubmissionId}{Closing}");

    /// <summary>The mark a <c>problems</c> cell ends with; null when it ends with none.</summary>
    public static RowMark? AtEndOf(ReadOnlySpan<char> problems)
    {
        problems = problems.Trim();
        if (!problems.EndsWith(Closing) || problems.LastIndexOf(Opening) is not (>= 0 and var at)) return null;
        var mark = problems[(at + Opening.Length)..^Closing.Length];
        if (mark.IndexOf(Between) is not (> 0 and var between)) return null;
        return int.TryParse(mark[..between], NumberStyles.None, CultureInfo.InvariantCulture, out var row)
            && Guid.TryParse(mark[(between + Between.Length)..], out var id) ? new(new(id), row) : null;
    }
}
