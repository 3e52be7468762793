using Registry.Facts;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Ui;

namespace Registry.Intake.HeldRows;

/// <summary>What a person reads about rows that wait, and about decisions.</summary>
public static class HeldRowWords
{
    public const string TickFirst = "Tick the rows first, or choose all that are shown.";
    public const string IdentifierKnown =
        "An infant is known already by the record number or card of this birth. A new infant would be a second record of one child, unless "
        + "the identifier was given twice.";
    public const string ChildKnown =
        "An infant is known that agrees with this birth in every detail it states. A new infant would be a second record of one child, "
        + "unless they are two.";
    public const string MakeItAllTheSame = "Another child all the same";
    public const string KeepRecorded = "Keep what is recorded";
    public const string ReplaceIt = "Replace it";
    public const string BothHappened = "Both happened";
    public const string NoneWaits = "None of these rows waits any more.";

    public static string Of(RowChangeKind kind) => kind switch
    {
        RowChangeKind.Matched => "Applied to the chosen infant",
        RowChangeKind.MadeNew => "Recorded as a new infant",
        RowChangeKind.KeptBoth => "Recorded beside what was there: both happened",
        RowChangeKind.AskedAgain => "Checked and matched again",
        RowChangeKind.TakenBack => "Decision taken back",
        _ => Words.Of((Enum)kind),
    };

    public static string Of(WaitingAge age) => age switch
    {
        WaitingAge.Today => "Today",
        WaitingAge.Week => "1 to 6 days",
        WaitingAge.Month => "7 to 30 days",
        _ => "Older",
    };

    /// <summary>Why a row waits.</summary>
    public static string Why(WaitingLine line) =>
        line.Hold is { } hold ? IntakeWords.Of(hold) : string.Join("; ", line.Problems.Select(Read));

    public static string Of(IEnumerable<Problem> problems) => string.Join("; ", problems.Select(Of));

    /// <summary>As a file says it: the column by its name there.</summary>
    public static string Of(Problem problem) => $"{problem.Field} {problem.Reason}".Trim();

    /// <summary>As a page says it.</summary>
    public static string Read(Problem problem) => ReasonWords.Whole(problem);

    /// <summary>What a decision did, and to how many other rows.</summary>
    public static string Done(RowChangeKind kind, int released) => Done(kind) + Released(released);

    private static string Done(RowChangeKind kind) => kind switch
    {
        RowChangeKind.Matched => "The row was applied to the infant you chose.",
        RowChangeKind.KeptBoth => "The row was recorded beside what was there.",
        RowChangeKind.MadeNew => "The birth was recorded as a new infant.",
        RowChangeKind.AskedAgain => "The row was checked and matched again.",
        RowChangeKind.Discarded => "The row was discarded.",
        _ => "",
    };

    /// <summary>What became of a corrected row.</summary>
    public static string Done(DecidedRow corrected) => corrected switch
    {
        { Outcome: RowOutcome.Accepted } => "The corrected row was applied.",
        { Outcome: RowOutcome.Unchanged } => "The corrected row says what is recorded already.",
        _ => $"The corrected row is kept and waits. {IntakeWords.Of(corrected.Hold!.Value)}.",
    } + Released(corrected.Released);

    private static string Released(int rows) => rows == 0 ? ""
        : $" {Words.Count(rows, "other row")} that waited for it {(rows == 1 ? "was" : "were")} settled with it.";

    /// <summary>What a fact says, by the name of its property.</summary>
    public static string OfProperty(string name) => name switch
    {
        nameof(ReportedDiagnosis.Right) => "Right ear: finding",
        nameof(ReportedDiagnosis.Left) => "Left ear: finding",
        nameof(ReportedDiagnosis.RightDegree) => "Right ear: degree",
        nameof(ReportedDiagnosis.LeftDegree) => "Left ear: degree",
        _ => Words.Sentence(name),
    };

    /// <param name="settlesItself">The row waits again for something that may come.</param>
    public static string TakenBack(bool settlesItself) => settlesItself
        ? "The decision was taken back. The row waits again, and is applied by itself within a minute when what it lacks is known; if it "
            + "is not to be used, discard it."
        : "The decision was taken back; the row is again as it was before.";

    /// <summary>Rows that wait for a birth that waits itself.</summary>
    public static string WaitFor(int rows) =>
        $"{Words.Count(rows, "other row")} {(rows == 1 ? "waits" : "wait")} for this birth, to be looked at again when it is decided.";

    public static string Of(RowRefusal refusal) => refusal.Why switch
    {
        WhyRefused.NoSuchRow => "There is no such row.",
        WhyRefused.WaitsNoMore => $"The row waits no more: {Of(refusal.Since!)}. Nothing was changed now.",
        WhyRefused.ChangedSinceOpened => Changed("you opened it", refusal),
        WhyRefused.ChangedSinceChosen => Changed("it was chosen", refusal),
        WhyRefused.CorrectItFirst => "A rejected row is corrected first.",
        WhyRefused.DoesNotStateIt => "The row does not state what was to be changed.",
        WhyRefused.StatesItAlready => "Nothing was changed: the row states this already.",
        WhyRefused.OnlyBirthsMakeInfants => "Only a birth can make a new infant.",
        WhyRefused.NoSuchInfant => "There is no such infant.",
        WhyRefused.IdentifierKnown => IdentifierKnown,
        WhyRefused.InfantKnown => ChildKnown,
        WhyRefused.HappenedBeforeBirth => "Not possible: something is recorded for that infant before the birth date the row states.",
        WhyRefused.CannotApply => $"Not possible. {Read(refusal.Problem ?? default)}.",
        WhyRefused.WouldStillWait => $"Not possible. {IntakeWords.Of(refusal.Hold!.Value)}.",
        WhyRefused.StillRejected => $"Still rejected. {Read(refusal.Problem ?? default)}.",
        WhyRefused.StillHeld => $"Still held. {IntakeWords.Of(refusal.Hold!.Value)}.",
        WhyRefused.NothingToTakeBack => "There is no decision to take back.",
        WhyRefused.ChangedSinceDecision => $"The row was changed since: {Of(refusal.Since!)}. Take that back first.",
        _ => "Other rows rest on it by now (they name the same infant, or replaced what it said). Settle those first.",
    };

    private static string Changed(string when, RowRefusal refusal) =>
        $"The row was changed after {when}: {Of(refusal.Since!)}. Look at it again; nothing was changed now.";

    private static string Of(LastEvent last) => last switch
    {
        { SentAgain: true } => $"it was sent again, {Words.Time(last.At)}",
        { Change: { } kind } => $"{Of(kind).ToLowerInvariant()} by {last.Person ?? "somebody"}, {Words.Time(last.At)}",
        _ => $"it settled itself, {Words.Time(last.At)}",
    };
}
