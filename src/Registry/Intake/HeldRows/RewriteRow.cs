using Registry.Intake.Applying;
using Registry.Intake.Rows;
using Registry.Platform;

namespace Registry.Intake.HeldRows;

/// <summary>A row as it would be read if it stated other fields. What the reader of the file found stays a problem until a person sets its
/// column, or confirms the row in spite of it: the fields as kept do not show it.</summary>
internal static class RewriteRow
{
    /// <summary>The row as it is kept.</summary>
    public static RowBatch AsKept(HeldContent content) => With(content, RowContent.Fields(content.Content));

    /// <param name="content">The row as it is kept.</param>
    /// <param name="fields">What it shall state.</param>
    /// <param name="confirmed">Of what the reader found (0-based, as stored), where a person says that the row is right.</param>
    public static RowBatch With(
        HeldContent content, IReadOnlyDictionary<Field, string> fields, IReadOnlyCollection<int>? confirmed = null)
    {
        var batch = new RowBatch(1);
        batch.Add(content.RowNumber, content.Line);
        foreach (var (field, value) in fields) batch.Set(field, value);
        if (content.FoundByReader.Count == 0) return batch;
        foreach (var (i, problem) in ProblemsJson.Unanswered(content.FoundByReader, RowContent.Fields(content.Content), fields))
            if (confirmed?.Contains(i) != true) batch.AddProblem(problem);
        return batch;
    }

    /// <summary>What is wrong with a row if it stated these fields; empty when it passes the checks. Reads nothing.</summary>
    public static IReadOnlyList<Problem> Check(
        HeldContent content, IReadOnlyDictionary<Field, string> fields, ProgramClock clock, KnownSites sites)
    {
        sites.Check(clock, content.ReceivedAt, content.SiteId).Check(With(content, fields), 0, out _, out var problems);
        return problems;
    }

    public static bool Same(IReadOnlyDictionary<Field, string> one, IReadOnlyDictionary<Field, string> other) =>
        one.Count == other.Count && one.All(f => other.GetValueOrDefault(f.Key) == f.Value);
}
