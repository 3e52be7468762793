using Microsoft.AspNetCore.Mvc.Rendering;
using Registry.Infants.Record;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;
using Registry.Ui;

namespace Registry.Intake.Typing;

/// <summary>How a column is asked for.</summary>
public enum InputKind { Words, Number, Day, Time, Choice, Place, Phone, Language }

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

    public static InputKind InputOf(Field field) => field switch
    {
        Field.ToSite or Field.BirthSite or Field.AppointmentSite => InputKind.Place,
        Field.BirthTime or Field.AppointmentTime => InputKind.Time,
        Field.BirthDate or Field.MotherBirthDate => InputKind.Day,
        Field.ContactPhone or Field.OtherPhone or Field.PrimaryCarePhone => InputKind.Phone,
        Field.Language => InputKind.Language,
        Field.Plurality or Field.BirthOrder or Field.GestationWeeks or Field.BirthWeightG => InputKind.Number,
        _ when FieldValues.CodesOf(field).Any() => InputKind.Choice,
        _ when field.ToString().EndsWith("On", StringComparison.Ordinal) => InputKind.Day,
        _ => InputKind.Words,
    };

    /// <summary>Columns without which the row says nothing.</summary>
    public static bool IsRequired(RowKind kind, Field field) => Required.Contains(field)
        || (kind == RowKind.Birth && field is Field.BirthDate or Field.Sex);

    private static readonly HashSet<Field> Required =
    [
        Field.EvaluatedOn, Field.RightFinding, Field.LeftFinding, Field.Event, Field.HappenedOn, Field.DiedOn, Field.Move, Field.MovedOn,
        Field.ToSite, Field.TransferredOn, Field.Step, Field.RefusedOn, Field.Indicator, Field.AttemptedOn, Field.ContactOutcome,
        Field.AdmittedOn, Field.RaisesRisk, Field.FromOn, Field.Appointment, Field.AppointmentOn,
        Field.Relation,
    ];

    /// <summary>The codes of a column, in words.</summary>
    public static IEnumerable<SelectListItem> ChoicesOf(Field field, string? chosen) =>
        FieldValues.CodesOf(field).Select(code => new SelectListItem(Choice(field, code), code, code == chosen));

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
        var said = Codes.TryParse<Field>(problem.Field, out var field) ? $"{FieldWords.Of(field)}: {problem.Reason}" : problem.Reason;
        return part is null ? said : $"{part}: {said}";
    }

    /// <summary>What was recorded while somebody was typing.</summary>
    public static string Meanwhile(TimeLineEntry entry) =>
        $"{entry.What}, {Words.Date(DateOnly.FromDateTime(entry.At))}: {entry.Detail} ({entry.Site})"
            + (entry.SupersededAt is null ? "" : ", no longer held true");

    public static string Of(Ear ear) => $"{ear} ear";

    private static string Choice(Field field, string code) => field switch
    {
        Field.Relation => FamilyWords.Of(Codes.Parse<FamilyRelation>(code)),
        Field.PhoneUse or Field.OtherPhoneUse => Words.Of((Enum)Codes.Parse<PhoneUse>(code)),
        Field.PreferredChannel => Words.Of((Enum)Codes.Parse<ContactChannel>(code)),
        Field.EmailConsent or Field.Provisional or Field.Permanent or Field.RaisesRisk or Field.InterpreterNeeded or Field.HoldsCustody
            or Field.MayBeTold or Field.PrimaryCareConfirmed => code == "true" ? "Yes" : "No",
        Field.Sex => Words.Of((Enum)Codes.Parse<Sex>(code)),
        Field.BirthPlace => Words.Of((Enum)Codes.Parse<BirthPlace>(code)),
        Field.Method => Words.Of((Enum)Codes.Parse<ScreeningMethod>(code)),
        Field.Reason => Words.Of((Enum)Codes.Parse<ScreeningReason>(code)),
        Field.RightFinding or Field.LeftFinding => Words.Of(Codes.Parse<EarFinding>(code)),
        Field.RightDegree or Field.LeftDegree => Words.Of((Enum)Codes.Parse<LossDegree>(code)),
        Field.BehavioralMethod => EvaluationWords.Of(Codes.Parse<BehavioralMethod>(code)),
        Field.AirTransducer => EvaluationWords.Of(Codes.Parse<AirTransducer>(code)),
        Field.RightTympanogramLow or Field.RightTympanogramHigh or Field.LeftTympanogramLow or Field.LeftTympanogramHigh =>
            EvaluationWords.Of(Codes.Parse<Tympanogram>(code)),
        Field.RightEmissions or Field.LeftEmissions => EvaluationWords.Of(Codes.Parse<Emissions>(code)),
        Field.EmissionsMethod => EvaluationWords.Of(Codes.Parse<ScreeningMethod>(code)),
        Field.AbrScale => EvaluationWords.Of(Codes.Parse<AbrScale>(code)),
        Field.Event => Words.Of(Codes.Parse<InterventionKind>(code)),
        Field.Move => Words.Of((Enum)Codes.Parse<MoveKind>(code)),
        Field.Step => Words.Of((Enum)Codes.Parse<PathStep>(code)),
        Field.Indicator => Words.Of((Enum)Codes.Parse<RiskIndicatorKind>(code)),
        Field.ContactOutcome => Words.Of(Codes.Parse<ContactOutcome>(code)),
        Field.ContactChannel => Words.Of((Enum)Codes.Parse<ContactChannel>(code)),
        Field.ContactPerson => Words.Of((Enum)Codes.Parse<ContactPerson>(code)),
        Field.Appointment => Words.Of((Enum)Codes.Parse<AppointmentEvent>(code)),
        _ => code,
    };
}
