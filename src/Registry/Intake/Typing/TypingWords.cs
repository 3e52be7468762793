using Microsoft.AspNetCore.Mvc.Rendering;
using Registry.Infants.Record;
using Registry.Intake.HeldRows;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;
using Registry.Ui;

namespace Registry.Intake.Typing;

/// <summary>How a column is asked for.</summary>
public enum InputKind { Words, Number, Day, Time, DayTime, Choice, Place, Phone, Language, State }

/// <summary>What the forms say by which a person types rows.</summary>
public static class TypingWords
{
    public const string ChooseSite = "Choose the site it is entered for.";
    public const string NothingTyped = "Nothing was entered yet: choose an outcome for an ear at least.";
    public const string NotStored = "Nothing was stored. What you typed is still here: look at the form, then save it again in a moment.";

    public const string Recorded = "Recorded.";
    public const string BirthUnknown = "The birth of this infant is not known yet, so nothing can be recorded. Nothing was stored.";
    public const string AnotherInfant =
        "Its numbers and birth lead to another infant's record, or to none. Nothing was stored: ask a coordinator to look at the record.";

    public const string SaidElsewhere =
        "The same was said at another time too, and an undo would take back both. Nothing was changed: ask a coordinator, or enter what "
            + "holds now.";

    public const string TakenBackSince =
        "What you are correcting was taken back since, and nothing was said in its place. What you typed is still here and nothing was "
            + "stored: enter it anew from the record if it holds.";

    public const string SaidSeveralTimes =
        "Your site said this more than once, and a correction could not tell which is meant. Nothing was stored: undo one of them first, "
            + "or ask a coordinator.";

    public const string HalfCorrected =
        "Your site has something else recorded at that place, or took it back before: the correction would not be recorded whole. Nothing "
            + "was stored: correct the other one, or ask a coordinator.";

    public const string NumberUnknown =
        "No other infant has the earlier number: it would become another number of the infant of this record.";

    /// <summary>The infant of the record, as one of two that are compared.</summary>
    public static string Stays(OpenedRecord record) => "The infant of this record: "
        + Child($"{record.Birth?.InfantGivenName} {record.Birth?.InfantFamilyName}", record.Birth?.BornOn, RecordWords.Mother(record.Birth),
            record.BirthSite, record.Identifiers.Where(i => i.SupersededAt is null).Select(i => i.Detail));

    /// <summary>An infant that has the other number.</summary>
    public static string OtherInfant(CandidateInfant other) => "An infant that has the earlier number: "
        + Child(other.InfantName, other.BornOn, $"{other.MotherGivenName} {other.MotherFamilyName}", other.BirthSite, other.Identifiers);

    private static string Child(string? name, DateOnly? born, string mother, string birthSite, IEnumerable<string> numbers) =>
        string.Join(", ", new[]
        {
            name?.Trim() is { Length: > 0 } called ? called : "no name", $"born {Words.Date(born)}",
            mother.Trim() is { Length: > 0 } by ? $"mother {by}" : "mother not stated", birthSite, $"numbers {string.Join(", ", numbers)}",
        }.Where(p => p.Length > 0)) + ".";

    public static InputKind InputOf(Field field) => field switch
    {
        Field.ToSite or Field.BirthSite or Field.AppointmentSite => InputKind.Place,
        Field.BirthTime or Field.AppointmentTime => InputKind.Time,
        Field.PerformedAt => InputKind.DayTime,
        Field.BirthDate or Field.MotherBirthDate => InputKind.Day,
        Field.ContactPhone or Field.OtherPhone or Field.PrimaryCarePhone => InputKind.Phone,
        Field.Language => InputKind.Language,
        Field.ResidenceState => InputKind.State,
        Field.Plurality or Field.BirthOrder or Field.GestationWeeks or Field.BirthWeightG => InputKind.Number,
        _ when FieldValues.CodesOf(field).Any() => InputKind.Choice,
        _ when field.ToString().EndsWith("On", StringComparison.Ordinal) => InputKind.Day,
        _ => InputKind.Words,
    };

    /// <summary>What is recorded in a column, as it stands in the field.</summary>
    public static string Shown(Field field, string recorded) => ValueWords.NameOf(field, recorded);

    /// <summary>What is sent of what stands in a field.</summary>
    public static string Sent(Field field, string typed) => field switch
    {
        Field.Language => Registry.Platform.Languages.CodeOf(typed)!,
        Field.ResidenceState => Registry.Platform.States.CodeOf(typed)!,
        _ => typed,
    };

    /// <summary>Columns without which the row says nothing.</summary>
    public static bool IsRequired(RowKind kind, Field field) => Required.Contains(field)
        || (kind == RowKind.Birth && field is Field.BirthDate or Field.Sex);

    private static readonly HashSet<Field> Required =
    [
        Field.EvaluatedOn, Field.RightFinding, Field.LeftFinding, Field.Event, Field.HappenedOn, Field.DiedOn, Field.Move, Field.MovedOn,
        Field.ToSite, Field.TransferredOn, Field.Step, Field.RefusedOn, Field.Indicator, Field.AttemptedOn, Field.ContactOutcome,
        Field.AdmittedOn, Field.RaisesRisk, Field.FromOn, Field.Appointment, Field.AppointmentOn,
        Field.Relation, Field.PriorRecordNumber, Field.Ear, Field.Outcome, Field.PerformedAt,
    ];

    /// <summary>The codes of a column, in words.</summary>
    public static IEnumerable<SelectListItem> ChoicesOf(Field field, string? chosen) =>
        FieldValues.CodesOf(field).Select(code => new SelectListItem(ValueWords.Of(field, code), code, code == chosen));

    /// <summary>Why something is to be looked at before it is saved.</summary>
    public static string Unsure(RowReport row) => row switch
    {
        { HeldReason: { } reason } => $"It would wait for a person: {Words.Within(IntakeWords.Of(Codes.Parse<HoldReason>(reason)))}.",
        { Outcome: "unchanged" } => "The same is recorded already: it would change nothing.",
        { Outcome: "accepted" } => "An infant that is recorded already fits: it would be recorded for that one, and no new one made.",
        _ => "The same was entered before and still waits for a person.",
    };

    public static string Outcome(RowReport row, bool undo) => row switch
    {
        { Outcome: "accepted" } => undo ? "Taken back. It stays readable in the record." : "Recorded.",
        { Outcome: "unchanged" } => "The same was recorded already: nothing changed.",
        { HeldReason: { } reason } => $"Kept, and not recorded yet. {IntakeWords.Of(Codes.Parse<HoldReason>(reason))}.",
        { Outcome: "rejected" } => "Not recorded.",
        _ => "Kept: it is recorded in a moment.",
    };

    public static string Kind(RowReport row) => Codes.TryParse<RowKind>(row.Kind, out var kind) ? EnterWords.Of(kind) : "";

    /// <param name="problem">What is wrong.</param>
    /// <param name="part">With which part of the form, where it has several.</param>
    public static string Problem(Problem problem, string? part = null)
    {
        var said = ReasonWords.Whole(problem);
        return part is null ? said : $"{part}: {said}";
    }

    /// <summary>What was recorded while somebody was typing.</summary>
    public static string Meanwhile(TimeLineEntry entry) =>
        $"{entry.What}, {Words.Date(DateOnly.FromDateTime(entry.At))}: {entry.Detail} ({entry.Site})"
            + (entry.SupersededAt is null ? "" : ", no longer held true");

    public static string Of(Ear ear) => $"{ear} ear";

    /// <summary>Heads what an instrument measured in an ear.</summary>
    public static string Measured(Ear ear) => $"Measured on the {Words.Within(ear.ToString())}";
}
