using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>What is wrong with a row: the column (null: the row as a whole) and why, in words that repeat no value.</summary>
public readonly record struct Problem(string? Field, string Reason)
{
    public Problem(Field field, string reason) : this(Codes.Of(field), reason) { }
}

/// <summary>What is wrong with a file. Row 0 is the header or the file itself.</summary>
public readonly record struct FileProblem(int Row, string? Field, string Reason);

/// <summary>The file as a whole cannot be read; the message repeats no value.</summary>
public sealed class UnreadableFileException(int row, string? column, string reason) : Exception(reason)
{
    public FileProblem Problem => new(row, column, Message);
}
