using Registry.Facts;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.Rows;

/// <summary>What each kind of row says, with the rules that hold within one row.</summary>
internal readonly ref partial struct ReadFields
{
    /// <summary>The fact, or null when a required part is missing or unreadable (then there is a problem).</summary>
    public ReportedFact? Fact(RowKind kind, in Identity identity, IReadOnlyDictionary<string, Guid> sites) => kind switch
    {
        RowKind.Birth => Birth(identity),
        RowKind.Screening => Screening(),
        RowKind.Diagnosis => Diagnosis(),
        RowKind.Intervention => Intervention(),
        RowKind.Death => RequiredPast(Field.DiedOn) is { } on ? new ReportedDeath(on) : null,
        RowKind.Move => Move(),
        RowKind.Transfer => Transfer(sites),
        RowKind.Refusal => Refusal(),
        RowKind.Risk => Risk(),
        RowKind.Contact => Contact(),
        RowKind.Readmission => Readmission(),
        RowKind.Merge => Merge(),
        _ => MedicalDelay(),
    };

    private ReportedBirth? Birth(in Identity identity)
    {
        var stated = RequiredPast(Field.BirthDate);
        var bornOn = stated ?? DateOnly.MinValue;
        var birth = new ReportedBirth(bornOn, identity.Sex)
        {
            BornAt = Time(Field.BirthTime),
            Place = Code<BirthPlace>(Field.BirthPlace),
            Plurality = identity.Plurality,
            BirthOrder = identity.BirthOrder,
            GestationWeeks = Int(Field.GestationWeeks, 20, 45),
            BirthWeightGrams = Int(Field.BirthWeightG, 200, 8000),
            NicuAdmittedOn = AfterBirth(Field.NicuAdmittedOn, bornOn),
            NicuDischargedOn = AfterBirth(Field.NicuDischargedOn, bornOn),
            DischargedOn = AfterBirth(Field.DischargedOn, bornOn),
            InfantGivenName = String(Field.InfantGivenName, 100),
            InfantFamilyName = String(Field.InfantFamilyName, 100),
            MotherGivenName = String(Field.MotherGivenName, 100),
            MotherFamilyName = String(Field.MotherFamilyName, 100),
            MotherBornOn = identity.MotherBornOn,
            County = String(Field.County, 100),
            Insurance = String(Field.Insurance, 100),
            Language = String(Field.Language, 100),
            RaceEthnicity = String(Field.RaceEthnicity, 100),
            MaternalEducation = String(Field.MaternalEducation, 100),
            ContactEmail = Email(),
            ContactPhone = String(Field.ContactPhone, 40),
            EmailConsent = Bool(Field.EmailConsent),
        };
        if (birth.NicuDischargedOn < birth.NicuAdmittedOn) problems.Add(new(Field.NicuDischargedOn, "is before nicu_admitted_on"));
        if (birth.NicuDischargedOn is not null && birth.NicuAdmittedOn is null && !IsStated(Field.NicuAdmittedOn))
            problems.Add(new(Field.NicuAdmittedOn, "is required with nicu_discharged_on"));
        return stated is null ? null : birth;
    }

    private ReportedScreening? Screening()
    {
        var ear = RequiredCode<Ear>(Field.Ear);
        var outcome = RequiredCode<ScreeningOutcome>(Field.Outcome);
        var performed = RequiredPastDateTime(Field.PerformedAt);
        var method = outcome == ScreeningOutcome.NotPerformed
            ? Code<ScreeningMethod>(Field.Method)
            : RequiredCode<ScreeningMethod>(Field.Method);
        var reason = Code<ScreeningReason>(Field.Reason);
        if (outcome is { } o) CheckReason(o, reason);
        var stage = Code(Field.Stage, ScreeningStage.Unstated);
        var instrument = String(Field.Instrument, 64);
        var probe = String(Field.Probe, 64);
        var screener = String(Field.Screener, 64);
        var detail = Detail(outcome);
        return ear is not { } e || outcome is not { } result || performed is not { } at
            ? null
            : new ReportedScreening(e, result, at)
            {
                Method = method ?? ScreeningMethod.Unknown,
                Reason = reason ?? ScreeningReason.None,
                Stage = stage,
                Instrument = instrument,
                Probe = probe,
                Screener = screener,
                Detail = detail,
            };
    }

    private void CheckReason(ScreeningOutcome outcome, ScreeningReason? reason)
    {
        var given = reason is not (null or ScreeningReason.None);
        if (outcome is ScreeningOutcome.Pass or ScreeningOutcome.Refer)
        {
            if (given) problems.Add(new(Field.Reason, "does not belong to a pass or refer"));
            return;
        }

        if (!given)
        {
            if (!IsStated(Field.Reason) || reason is ScreeningReason.None)
                problems.Add(new(Field.Reason, $"is required for {Codes.Of(outcome)}"));
            return;
        }

        var ofInvalid = reason is ScreeningReason.Noise or ScreeningReason.NoSeal or ScreeningReason.InfantUnsettled or ScreeningReason.EquipmentFault;
        if (reason != ScreeningReason.Other && ofInvalid != (outcome == ScreeningOutcome.NoValidResult))
            problems.Add(new(Field.Reason, $"is not a reason for {Codes.Of(outcome)}"));
    }

    private ReportedDiagnosis? Diagnosis()
    {
        var on = RequiredPast(Field.EvaluatedOn);
        var right = RequiredCode<EarFinding>(Field.RightFinding);
        var left = RequiredCode<EarFinding>(Field.LeftFinding);
        var rightDegree = Code(Field.RightDegree, LossDegree.NotStated);
        var leftDegree = Code(Field.LeftDegree, LossDegree.NotStated);
        if (right is { } r) CheckDegree(Field.RightDegree, r, rightDegree);
        if (left is { } l) CheckDegree(Field.LeftDegree, l, leftDegree);
        if (right == EarFinding.NotEvaluated && left == EarFinding.NotEvaluated)
            problems.Add(new(Field.RightFinding, "neither ear was evaluated"));
        var provisional = Bool(Field.Provisional) ?? false;
        var permanent = Bool(Field.Permanent);
        return on is not { } day || right is not { } rf || left is not { } lf
            ? null
            : new ReportedDiagnosis(day, rf, lf)
            {
                RightDegree = rightDegree,
                LeftDegree = leftDegree,
                Provisional = provisional,
                Permanent = permanent
            };
    }

    private void CheckDegree(Field field, EarFinding finding, LossDegree degree)
    {
        if (degree != LossDegree.NotStated && finding is (EarFinding.Normal or EarFinding.NotEvaluated))
            problems.Add(new(field, "a degree belongs to a loss only"));
    }

    private ReportedIntervention? Intervention()
    {
        var kind = RequiredCode<InterventionKind>(Field.Event);
        var on = RequiredPast(Field.HappenedOn);
        return kind is { } k && on is { } day ? new ReportedIntervention(k, day) : null;
    }

    private ReportedMove? Move()
    {
        var kind = RequiredCode<MoveKind>(Field.Move);
        var on = RequiredPast(Field.MovedOn);
        return kind is { } k && on is { } day ? new ReportedMove(k, day) : null;
    }

    private ReportedTransfer? Transfer(IReadOnlyDictionary<string, Guid> sites)
    {
        var code = Required(Field.ToSite) ? String(Field.ToSite, 100) : null;
        var on = RequiredPast(Field.TransferredOn);
        if (code is null) return null;
        if (sites.TryGetValue(code, out var site)) return on is { } day ? new ReportedTransfer(site, day) : null;
        problems.Add(new(Field.ToSite, "is not the code of a site of this region"));
        return null;
    }

    private ReportedRefusal? Refusal()
    {
        var step = RequiredCode<PathStep>(Field.Step);
        var on = RequiredPast(Field.RefusedOn);
        var revoked = Past(Field.RevokedOn);
        if (revoked < on) problems.Add(new(Field.RevokedOn, "is before refused_on"));
        var by = String(Field.RefusedBy, 100);
        return step is { } s && on is { } day ? new ReportedRefusal(s, day) { RevokedOn = revoked, RefusedBy = by } : null;
    }

    private ReportedRisk? Risk()
    {
        var kind = RequiredCode<RiskIndicatorKind>(Field.Indicator);
        var on = Past(Field.NotedOn);
        return kind is { } k ? new ReportedRisk(k, on) : null;
    }

    private ReportedContact? Contact()
    {
        var step = RequiredCode<PathStep>(Field.Step);
        var on = RequiredPast(Field.AttemptedOn);
        var outcome = RequiredCode<ContactOutcome>(Field.ContactOutcome);
        return step is { } s && on is { } day && outcome is { } o ? new ReportedContact(s, day, o) : null;
    }

    private ReportedReadmission? Readmission()
    {
        var on = RequiredPast(Field.AdmittedOn);
        var raisesRisk = Required(Field.RaisesRisk) ? Bool(Field.RaisesRisk) : null;
        var discharged = Past(Field.DischargedOn);
        if (discharged < on) problems.Add(new(Field.DischargedOn, "is before admitted_on"));
        return on is { } day && raisesRisk is { } risk ? new ReportedReadmission(day, risk) { DischargedOn = discharged } : null;
    }

    private ReportedMerge? Merge()
    {
        var stays = Required(Field.RecordNumber);
        if (!Required(Field.PriorRecordNumber) || !stays || String(Field.PriorRecordNumber, 64) is not { } prior) return null;
        if (!batch.Text(row, Field.RecordNumber).SequenceEqual(prior)) return new ReportedMerge(prior);
        problems.Add(new(Field.PriorRecordNumber, "is the same as record_number"));
        return null;
    }

    private ReportedMedicalDelay? MedicalDelay()
    {
        var step = RequiredCode<PathStep>(Field.Step);
        var from = RequiredPast(Field.FromOn);
        var ended = Past(Field.EndedOn);
        if (ended < from) problems.Add(new(Field.EndedOn, "is before from_on"));
        return step is { } s && from is { } day ? new ReportedMedicalDelay(s, day) { EndedOn = ended } : null;
    }

    private DateOnly? AfterBirth(Field field, DateOnly bornOn)
    {
        var date = Past(field);
        if (!(date < bornOn)) return date;
        problems.Add(new(field, "is before birth_date"));
        return null;
    }

    private string? Email()
    {
        var text = String(Field.ContactEmail, 254);
        if (text is null) return null;
        var at = text.IndexOf('@', StringComparison.Ordinal);
        if (at > 0 && at == text.LastIndexOf('@') && at < text.Length - 1 && !text.Contains(' ', StringComparison.Ordinal)) return text;
        problems.Add(new(Field.ContactEmail, "is not an e-mail address"));
        return null;
    }
}
