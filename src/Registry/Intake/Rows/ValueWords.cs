using System.Collections.Frozen;
using Registry.Infants.Record;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Intake.Rows;

/// <summary>What stands in a column, as a person reads it.</summary>
public static class ValueWords
{
    private static readonly FrozenDictionary<Field, FrozenSet<string>> CodesOf = Enum.GetValues<Field>()
        .ToFrozenDictionary(f => f, f => FieldValues.CodesOf(f).ToFrozenSet(StringComparer.OrdinalIgnoreCase));

    private static readonly FrozenDictionary<string, Field> FirstWith = Enum.GetValues<Field>()
        .SelectMany(f => FieldValues.CodesOf(f), (f, code) => (f, code)).DistinctBy(c => c.code)
        .ToFrozenDictionary(c => c.code, c => c.f);

    /// <summary>The words of a code, the name of a language or state; the text itself where it is none of these.</summary>
    public static string Of(Field field, string value) =>
        CodesOf[field].TryGetValue(value, out var code) ? OfCode(field, code) : NameOf(field, value);

    /// <summary>The name of a language or state; the text itself in other columns.</summary>
    public static string NameOf(Field field, string value) => field switch
    {
        Field.Language => Languages.NameOf(value)!,
        Field.ResidenceState => States.NameOf(value)!,
        _ => value,
    };

    /// <summary>The words of a code wherever it stands, as those of the column if it has it; null where no column has it.</summary>
    public static string? Of(string code, Field? column) =>
        column is { } of && CodesOf[of].Contains(code) ? OfCode(of, code)
        : FirstWith.TryGetValue(code, out var first) ? OfCode(first, code) : null;

    private static string OfCode(Field field, string code) => field switch
    {
        Field.Kind => Words.Of((Enum)Codes.Parse<RowKind>(code)),
        Field.Action => Words.Of((Enum)Codes.Parse<RowAction>(code)),
        Field.Relation => FamilyWords.Of(Codes.Parse<FamilyRelation>(code)),
        Field.PhoneUse or Field.OtherPhoneUse => Words.Of((Enum)Codes.Parse<PhoneUse>(code)),
        Field.PreferredChannel or Field.ContactChannel => Words.Of((Enum)Codes.Parse<ContactChannel>(code)),
        Field.EmailConsent or Field.Provisional or Field.Permanent or Field.RaisesRisk or Field.InterpreterNeeded or Field.HoldsCustody
            or Field.MayBeTold or Field.PrimaryCareConfirmed => code == "true" ? "Yes" : "No",
        Field.Sex => Words.Of((Enum)Codes.Parse<Sex>(code)),
        Field.BirthPlace => Words.Of((Enum)Codes.Parse<BirthPlace>(code)),
        Field.Event => Words.Of(Codes.Parse<InterventionKind>(code)),
        Field.Move => Words.Of((Enum)Codes.Parse<MoveKind>(code)),
        Field.Step => Words.Of((Enum)Codes.Parse<PathStep>(code)),
        Field.Indicator => Words.Of((Enum)Codes.Parse<RiskIndicatorKind>(code)),
        Field.ContactOutcome => Words.Of(Codes.Parse<ContactOutcome>(code)),
        Field.ContactPerson => Words.Of((Enum)Codes.Parse<ContactPerson>(code)),
        Field.Appointment => Words.Of((Enum)Codes.Parse<AppointmentEvent>(code)),
        _ => OfTest(field, code),
    };

    private static string OfTest(Field field, string code) => field switch
    {
        Field.Ear => $"{Codes.Parse<Ear>(code)} ear",
        Field.Outcome => Words.Of((Enum)Codes.Parse<ScreeningOutcome>(code)),
        Field.Stage => Words.Of((Enum)Codes.Parse<ScreeningStage>(code)),
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
        _ => code,
    };
}
