using Registry.Facts;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.Rows;

/// <summary>Reads a row's fact, or null when a required part is missing or unreadable (then there is a problem).</summary>
internal delegate ReportedFact? ReadFact(in ReadFields row, in Identity who, IReadOnlyDictionary<string, Guid> sites);

/// <summary>States a fact in the columns of a row.</summary>
internal delegate void SayFact(StatedColumns row, ReportedFact fact, IReadOnlyDictionary<Guid, string> sites);

/// <summary>What a row of one kind states.</summary>
/// <param name="Day">The column of the day it happened.</param>
/// <param name="States">The columns it may state besides who it is about.</param>
/// <param name="Fact">Reads the fact.</param>
/// <param name="Retracted">Reads what a retraction must say: no more than which statement it takes back. Its other columns are not
/// read.</param>
internal sealed record KindOfRow(Field Day, IReadOnlyList<Field> States, ReadFact Fact, ReadFact Retracted)
{
    /// <summary>A kind whose rows name a fact whole, to report it as to take it back.</summary>
    private KindOfRow(Field day, IReadOnlyList<Field> states, ReadFact fact) : this(day, states, fact, fact)
    {
    }

    /// <summary>The way back: the columns that state a fact, whole.</summary>
    public SayFact Say { get; private init; } = static (_, fact, _) =>
        throw new ArgumentOutOfRangeException(nameof(fact), $"Nothing says how a row states a {fact.GetType().Name}.");

    public static KindOfRow Of(RowKind kind) => All[(int)kind];

    private static SayFact Says<T>(Action<StatedColumns, T> say) where T : ReportedFact => (row, fact, _) => say(row, (T)fact);

    private static SayFact SaysBySite<T>(Action<StatedColumns, T, IReadOnlyDictionary<Guid, string>> say) where T : ReportedFact =>
        (row, fact, sites) => say(row, (T)fact, sites);

    /// <summary>In the order of <see cref="RowKind"/>.</summary>
    private static readonly KindOfRow[] All = [.. Enum.GetValues<RowKind>().Select(kind => kind switch
    {
        RowKind.Birth => new(Field.BirthDate, ReadFields.OfBirth, static (in row, in who, _) => row.Birth(who),
            static (in _, in who, _) => new ReportedBirth(who.BornOn ?? DateOnly.MinValue, who.Sex))
            { Say = Says<ReportedBirth>(FactAsRow.Say) },
        RowKind.Screening => new(Field.PerformedAt, ReadFields.OfScreening,
            static (in row, in _, _) => row.Screening(), static (in row, in _, _) => row.RetractedScreening())
            { Say = Says<ReportedScreening>(FactAsRow.Say) },
        RowKind.Diagnosis => new(Field.EvaluatedOn, ReadFields.OfDiagnosis, static (in row, in _, _) => row.Diagnosis(),
            static (in row, in _, _) => row.RequiredPast(Field.EvaluatedOn) is { } on ? new ReportedDiagnosis(on, default, default) : null)
            { Say = Says<ReportedDiagnosis>(FactAsRow.Say) },
        RowKind.Intervention => new(Field.HappenedOn, [Field.Event, Field.HappenedOn], static (in row, in _, _) => row.Intervention())
            { Say = Says<ReportedIntervention>(FactAsRow.Say) },
        RowKind.Death => new(Field.DiedOn, [Field.DiedOn],
            static (in row, in _, _) => row.RequiredPast(Field.DiedOn) is { } on ? new ReportedDeath(on) : null)
            { Say = Says<ReportedDeath>(FactAsRow.Say) },
        RowKind.Move => new(Field.MovedOn, [Field.Move, Field.MovedOn], static (in row, in _, _) => row.Move())
            { Say = Says<ReportedMove>(FactAsRow.Say) },
        RowKind.Transfer => new(Field.TransferredOn, [Field.ToSite, Field.TransferredOn],
            static (in row, in _, sites) => row.Transfer(sites),
            static (in row, in _, _) => row.RequiredPast(Field.TransferredOn) is { } on ? new ReportedTransfer(default, on) : null)
            { Say = SaysBySite<ReportedTransfer>(FactAsRow.Say) },
        RowKind.Refusal => new(Field.RefusedOn, [Field.Step, Field.RefusedOn, Field.RevokedOn, Field.RefusedBy],
            static (in row, in _, _) => row.Refusal(),
            static (in row, in _, _) => row.StepOn(Field.RefusedOn) is var (step, on) ? new ReportedRefusal(step, on) : null)
            { Say = Says<ReportedRefusal>(FactAsRow.Say) },
        RowKind.Risk => new(Field.NotedOn, [Field.Indicator, Field.NotedOn], static (in row, in _, _) => row.Risk())
            { Say = Says<ReportedRisk>(FactAsRow.Say) },
        RowKind.Contact => new(Field.AttemptedOn,
            [Field.Step, Field.AttemptedOn, Field.ContactOutcome, Field.ContactChannel, Field.ContactPerson, Field.CallAgainOn,
                Field.ContactNote],
            static (in row, in _, _) => row.Contact())
            { Say = Says<ReportedContact>(FactAsRow.Say) },
        RowKind.Appointment => new(Field.HappenedOn,
            [Field.Step, Field.Appointment, Field.HappenedOn, Field.AppointmentOn, Field.AppointmentTime, Field.AppointmentSite,
                Field.AppointmentPlace],
            static (in row, in _, sites) => row.Appointment(sites), static (in row, in _, _) => row.RetractedAppointment())
            { Say = SaysBySite<ReportedAppointment>(FactAsRow.Say) },
        RowKind.Readmission => new(Field.AdmittedOn, [Field.AdmittedOn, Field.DischargedOn, Field.RaisesRisk],
            static (in row, in _, _) => row.Readmission(),
            static (in row, in _, _) => row.RequiredPast(Field.AdmittedOn) is { } on ? new ReportedReadmission(on, default) : null)
            { Say = Says<ReportedReadmission>(FactAsRow.Say) },
        RowKind.MedicalDelay => new(Field.FromOn, [Field.Step, Field.FromOn, Field.EndedOn], static (in row, in _, _) => row.MedicalDelay(),
            static (in row, in _, _) => row.StepOn(Field.FromOn) is var (step, on) ? new ReportedMedicalDelay(step, on) : null)
            { Say = Says<ReportedMedicalDelay>(FactAsRow.Say) },
        RowKind.FamilyContact => new(Field.StatedOn, ReadFields.OfFamilyContact, static (in row, in _, _) => row.FamilyContact())
            { Say = Says<ReportedFamilyContact>(FactAsRow.Say) },
        RowKind.Care => new(Field.StatedOn, ReadFields.OfCare, static (in row, in _, _) => row.Care())
            { Say = Says<ReportedCare>(FactAsRow.Say) },
        RowKind.Merge => new KindOfRow(Field.PriorRecordNumber, [Field.PriorRecordNumber],
            static (in row, in _, _) => row.Merge(), static (in row, in _, _) => row.RetractedMerge()),
        _ => throw new InvalidOperationException($"Nothing says what a {Codes.Of(kind)} row states."),
    })];
}

/// <summary>What each of the shorter kinds says, with the rules that hold within one row.</summary>
internal readonly ref partial struct ReadFields
{
    public ReportedIntervention? Intervention()
    {
        var kind = RequiredCode<InterventionKind>(Field.Event);
        var on = RequiredPast(Field.HappenedOn);
        return kind is { } k && on is { } day ? new ReportedIntervention(k, day) : null;
    }

    public ReportedMove? Move()
    {
        var kind = RequiredCode<MoveKind>(Field.Move);
        var on = RequiredPast(Field.MovedOn);
        return kind is { } k && on is { } day ? new ReportedMove(k, day) : null;
    }

    public ReportedTransfer? Transfer(IReadOnlyDictionary<string, Guid> sites)
    {
        var code = Required(Field.ToSite) ? String(Field.ToSite, 100) : null;
        var on = RequiredPast(Field.TransferredOn);
        if (code is null) return null;
        if (sites.TryGetValue(code, out var site)) return on is { } day ? new ReportedTransfer(site, day) : null;
        problems.Add(new(Field.ToSite, "is not the code of a site of this region"));
        return null;
    }

    public ReportedRefusal? Refusal()
    {
        var step = RequiredCode<PathStep>(Field.Step);
        var on = RequiredPast(Field.RefusedOn);
        var revoked = Past(Field.RevokedOn);
        if (revoked < on) problems.Add(new(Field.RevokedOn, "is before refused_on"));
        var by = String(Field.RefusedBy, 100);
        return step is { } s && on is { } day ? new ReportedRefusal(s, day) { RevokedOn = revoked, RefusedBy = by } : null;
    }

    public ReportedRisk? Risk()
    {
        var kind = RequiredCode<RiskIndicatorKind>(Field.Indicator);
        var on = Past(Field.NotedOn);
        return kind is { } k ? new ReportedRisk(k, on) : null;
    }

    public ReportedContact? Contact()
    {
        var step = RequiredCode<PathStep>(Field.Step);
        var on = RequiredPast(Field.AttemptedOn);
        var outcome = RequiredCode<ContactOutcome>(Field.ContactOutcome);
        var again = Date(Field.CallAgainOn);
        if (again < on) problems.Add(new(Field.CallAgainOn, "is before attempted_on"));
        return step is { } s && on is { } day && outcome is { } o
            ? new ReportedContact(s, day, o)
            {
                Channel = Code<ContactChannel>(Field.ContactChannel),
                Person = Code<ContactPerson>(Field.ContactPerson),
                CallAgainOn = again,
                Note = String(Field.ContactNote, 500),
            }
            : null;
    }

    public ReportedReadmission? Readmission()
    {
        var on = RequiredPast(Field.AdmittedOn);
        var raisesRisk = Required(Field.RaisesRisk) ? Bool(Field.RaisesRisk) : null;
        var discharged = Past(Field.DischargedOn);
        if (discharged < on) problems.Add(new(Field.DischargedOn, "is before admitted_on"));
        return on is { } day && raisesRisk is { } risk ? new ReportedReadmission(day, risk) { DischargedOn = discharged } : null;
    }

    public ReportedMedicalDelay? MedicalDelay()
    {
        var step = RequiredCode<PathStep>(Field.Step);
        var from = RequiredPast(Field.FromOn);
        var ended = Past(Field.EndedOn);
        if (ended < from) problems.Add(new(Field.EndedOn, "is before from_on"));
        return step is { } s && from is { } day ? new ReportedMedicalDelay(s, day) { EndedOn = ended } : null;
    }

    public (PathStep Step, DateOnly On)? StepOn(Field day)
    {
        var step = RequiredCode<PathStep>(Field.Step);
        var on = RequiredPast(day);
        return step is { } s && on is { } d ? (s, d) : null;
    }
}

/// <summary>The shorter kinds, the other way.</summary>
public static partial class FactAsRow
{
    internal static void Say(StatedColumns row, ReportedIntervention intervention)
    {
        row.Code<InterventionKind>(Field.Event, intervention.Kind);
        row.Day(Field.HappenedOn, intervention.HappenedOn);
    }

    internal static void Say(StatedColumns row, ReportedDeath death) =>
        row.Day(Field.DiedOn, death.DiedOn);

    internal static void Say(StatedColumns row, ReportedMove move)
    {
        row.Code<MoveKind>(Field.Move, move.Kind);
        row.Day(Field.MovedOn, move.MovedOn);
    }

    internal static void Say(StatedColumns row, ReportedTransfer transfer, IReadOnlyDictionary<Guid, string> sites)
    {
        row.Text(Field.ToSite, sites[transfer.ToSiteId]);
        row.Day(Field.TransferredOn, transfer.TransferredOn);
    }

    internal static void Say(StatedColumns row, ReportedRefusal refusal)
    {
        row.Code<PathStep>(Field.Step, refusal.Step);
        row.Day(Field.RefusedOn, refusal.RefusedOn);
        row.Day(Field.RevokedOn, refusal.RevokedOn);
        row.Text(Field.RefusedBy, refusal.RefusedBy);
    }

    internal static void Say(StatedColumns row, ReportedRisk risk)
    {
        row.Code<RiskIndicatorKind>(Field.Indicator, risk.Kind);
        row.Day(Field.NotedOn, risk.NotedOn);
    }

    internal static void Say(StatedColumns row, ReportedReadmission stay)
    {
        row.Day(Field.AdmittedOn, stay.AdmittedOn);
        row.Day(Field.DischargedOn, stay.DischargedOn);
        row.Bool(Field.RaisesRisk, stay.RaisesRisk);
    }

    internal static void Say(StatedColumns row, ReportedMedicalDelay delay)
    {
        row.Code<PathStep>(Field.Step, delay.Step);
        row.Day(Field.FromOn, delay.FromOn);
        row.Day(Field.EndedOn, delay.EndedOn);
    }

    internal static void Say(StatedColumns row, ReportedContact contact)
    {
        row.Code<PathStep>(Field.Step, contact.Step);
        row.Day(Field.AttemptedOn, contact.AttemptedOn);
        row.Code<ContactOutcome>(Field.ContactOutcome, contact.Outcome);
        row.Code(Field.ContactChannel, contact.Channel);
        row.Code(Field.ContactPerson, contact.Person);
        row.Day(Field.CallAgainOn, contact.CallAgainOn);
        row.Text(Field.ContactNote, contact.Note);
    }
}
