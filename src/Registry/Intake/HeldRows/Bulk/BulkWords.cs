using Registry.Intake.Rows;
using Registry.Records;
using Registry.Ui;

namespace Registry.Intake.HeldRows.Bulk;

/// <summary>Why a bulk decision was not made, not tried or not taken back.</summary>
public enum BulkRefusal { NoColumn, NothingTyped, NoRowsChosen, NotAsTried, DecidedAlready, TakenBackAlready }

/// <summary>What a person reads about rows decided together. Reasons are stored with the rows they are about.</summary>
public static class BulkWords
{
    /// <summary>Of a row whose turn had not come.</summary>
    public const string Stopped = "stopped: the decision was taken back before its turn";

    public const string NewInfants =
        "Each is a new infant: for births held together because mothers agree by chance. One whose record number or card an infant carries "
        + "already, or that agrees with one in every detail, is left as it is, to be looked at by itself.";

    public static string Of(BulkRefusal refusal) => refusal switch
    {
        BulkRefusal.NoColumn => "Choose the column to correct.",
        BulkRefusal.NothingTyped => "Type what the rows state.",
        BulkRefusal.NoRowsChosen => "Choose which rows are changed.",
        BulkRefusal.NotAsTried => "The choice is not the one that was tried. Nothing was changed: look what it would do first.",
        BulkRefusal.DecidedAlready => "It was decided already, by somebody else or in another window.",
        _ => "It was taken back already, or is being taken back.",
    };

    /// <summary>What came of some rows.</summary>
    public static string Of(BulkCount count)
    {
        var decision = count.State switch
        {
            BulkRowState.Done => count.Reason is null ? "Decided" : "Decided, not taken back",
            BulkRowState.NotDone => "Left as it was",
            BulkRowState.TakenBack => "Taken back",
            _ => "Waits for its turn",
        };
        return $"{decision}, now {IntakeWords.Of(count.Outcome).ToLowerInvariant()}{(count.Reason is null ? "" : $": {count.Reason}")}";
    }

    /// <summary>What came of one row.</summary>
    public static string Of(BulkLine line) => (line.State == BulkRowState.Chosen ? "—" : Words.Of((Enum)line.State))
        + (line.Reason is null ? "" : $": {line.Reason}");

    public static string NotApplied(IEnumerable<Problem> problems) =>
        "not applied: " + string.Join("; ", problems.Select(HeldRowWords.Read));

    /// <param name="kind">The kind of error: its message may quote the row.</param>
    public static string Failed(string kind) => $"could not be done, by an error of the program ({kind}); the row is as it was";
}
