using Registry.Rules.Linkage;

namespace Registry.Facts;

public enum FactVerdict
{
    /// <summary>Nothing recorded speaks of it.</summary>
    New,

    /// <summary>Recorded already: the row changes nothing.</summary>
    Same,

    /// <summary>The row corrects or completes what is recorded.</summary>
    Replaces,

    /// <summary>The row says something else about the same test, evaluation or event: for a person to decide.</summary>
    Contradicts,
}

/// <summary>
/// Sets a reported fact beside one recorded for the same infant. Never a guess about which of two statements is right:
/// only a birth restated by the site that reported it, a refusal that gains its revocation and a test that gains its detail replace by
/// themselves.
/// </summary>
public static class CompareFacts
{
    /// <summary>Do the two speak of the same thing, and if so, what follows?</summary>
    /// <param name="row">What is reported now.</param>
    /// <param name="recorded">What is recorded.</param>
    /// <param name="sameSite">Both come from one site.</param>
    /// <param name="result">The fact to record instead, when it <see cref="FactVerdict.Replaces"/>.</param>
    public static FactVerdict Compare(ReportedFact row, ReportedFact recorded, bool sameSite, out ReportedFact result)
    {
        result = row;
        switch (row, recorded)
        {
            case (ReportedBirth r, ReportedBirth k):
                var said = sameSite ? r : SpelledAs(k, r);
                var restated = k.RestatedBy(said);
                result = restated;
                if (restated == k) return FactVerdict.Same;
                return sameSite || OnlyAdds(said, k) ? FactVerdict.Replaces : FactVerdict.Contradicts;

            case (ReportedScreening r, ReportedScreening k):
                if (!sameSite || r.Ear != k.Ear || r.PerformedAt != k.PerformedAt) return FactVerdict.New;
                var agrees = r.Outcome == k.Outcome && r.Reason == k.Reason
                    && (r.Method == Rules.Facts.ScreeningMethod.Unknown || r.Method == k.Method)
                    && (r.Stage == Rules.Facts.ScreeningStage.Unstated || r.Stage == k.Stage)
                    && SaysNoOther(r.Instrument, k.Instrument) && SaysNoOther(r.Probe, k.Probe) && SaysNoOther(r.Screener, k.Screener);
                if (!agrees) return FactVerdict.Contradicts;
                var detail = r.Detail is null ? k.Detail : k.Detail is null ? r.Detail : k.Detail.CompletedBy(r.Detail);
                if (detail is null && r.Detail is not null) return FactVerdict.Contradicts;
                result = k with { Detail = detail };
                return result == recorded ? FactVerdict.Same : FactVerdict.Replaces;

            case (ReportedDiagnosis r, ReportedDiagnosis k):
                if (!sameSite || r.EvaluatedOn != k.EvaluatedOn) return FactVerdict.New;
                return r == k ? FactVerdict.Same : FactVerdict.Contradicts;

            case (ReportedDeath r, ReportedDeath k):
                return r == k ? FactVerdict.Same : FactVerdict.Contradicts;

            case (ReportedRefusal r, ReportedRefusal k):
                if (r.Step != k.Step || r.RefusedOn != k.RefusedOn) return FactVerdict.New;
                var both = k with { RevokedOn = k.RevokedOn ?? r.RevokedOn, RefusedBy = k.RefusedBy ?? r.RefusedBy };
                result = both;
                if (!SaysNoOther(r.RefusedBy, both.RefusedBy) || (r.RevokedOn is { } on && on != both.RevokedOn))
                    return FactVerdict.Contradicts;
                return both == k ? FactVerdict.Same : FactVerdict.Replaces;

            case (ReportedContact r, ReportedContact k):
                return sameSite && r == k ? FactVerdict.Same : FactVerdict.New;

            case (ReportedReadmission r, ReportedReadmission k):
                if (r.AdmittedOn != k.AdmittedOn) return FactVerdict.New;
                result = k with { DischargedOn = k.DischargedOn ?? r.DischargedOn };
                if (r.RaisesRisk != k.RaisesRisk || (r.DischargedOn is { } home && home != ((ReportedReadmission)result).DischargedOn))
                    return FactVerdict.Contradicts;
                return result == recorded ? FactVerdict.Same : FactVerdict.Replaces;

            case (ReportedMedicalDelay r, ReportedMedicalDelay k):
                if (r.Step != k.Step || r.FromOn != k.FromOn) return FactVerdict.New;
                result = k with { EndedOn = k.EndedOn ?? r.EndedOn };
                if (r.EndedOn is { } end && end != ((ReportedMedicalDelay)result).EndedOn) return FactVerdict.Contradicts;
                return result == recorded ? FactVerdict.Same : FactVerdict.Replaces;

            default:
                return row == recorded ? FactVerdict.Same : FactVerdict.New;
        }
    }

    /// <summary>May a correction mean what is recorded? What names a fact, without what it says; the site has been compared
    /// before.</summary>
    public static bool AboutTheSame(ReportedFact row, ReportedFact recorded) => (row, recorded) switch
    {
        (ReportedBirth, ReportedBirth) or (ReportedDeath, ReportedDeath) => true,
        (ReportedScreening r, ReportedScreening k) => r.Ear == k.Ear && r.PerformedAt == k.PerformedAt,
        (ReportedDiagnosis r, ReportedDiagnosis k) => r.EvaluatedOn == k.EvaluatedOn,
        (ReportedIntervention r, ReportedIntervention k) => r.Kind == k.Kind,
        (ReportedMove r, ReportedMove k) => r.Kind == k.Kind,
        (ReportedTransfer r, ReportedTransfer k) => r.TransferredOn == k.TransferredOn,
        (ReportedRefusal r, ReportedRefusal k) => r.Step == k.Step && r.RefusedOn == k.RefusedOn,
        (ReportedRisk r, ReportedRisk k) => r.Kind == k.Kind,
        (ReportedContact r, ReportedContact k) => r.Step == k.Step && r.AttemptedOn == k.AttemptedOn,
        (ReportedReadmission r, ReportedReadmission k) => r.AdmittedOn == k.AdmittedOn,
        (ReportedMedicalDelay r, ReportedMedicalDelay k) => r.Step == k.Step && r.FromOn == k.FromOn,
        _ => false,
    };

    /// <summary>Does a retraction take back what is recorded? An event that is all name must be named whole.</summary>
    public static bool Names(ReportedFact retraction, ReportedFact recorded) => AboutTheSame(retraction, recorded) && retraction switch
    {
        ReportedIntervention or ReportedMove or ReportedContact or ReportedDeath => retraction == recorded,
        ReportedRisk { NotedOn: { } on } => on == ((ReportedRisk)recorded).NotedOn,
        _ => true,
    };

    private static bool SaysNoOther(string? row, string? recorded) => row is null || row == recorded;

    /// <summary>Another site's birth row fills blanks and repeats the rest. Consent to e-mail is whatever was said last.</summary>
    private static bool OnlyAdds(ReportedBirth row, ReportedBirth recorded)
    {
        var (r, k) = (row with { EmailConsent = null }, recorded with { EmailConsent = null });
        return r.RestatedBy(k) == k.RestatedBy(r);
    }

    /// <summary>The row with recorded spellings where its names differ in case, marks and punctuation only.</summary>
    private static ReportedBirth SpelledAs(ReportedBirth recorded, ReportedBirth row) => row with
    {
        InfantGivenName = SameName(row.InfantGivenName, recorded.InfantGivenName),
        InfantFamilyName = SameName(row.InfantFamilyName, recorded.InfantFamilyName),
        MotherGivenName = SameName(row.MotherGivenName, recorded.MotherGivenName),
        MotherFamilyName = SameName(row.MotherFamilyName, recorded.MotherFamilyName),
    };

    private static string? SameName(string? row, string? recorded) =>
        NormaliseName.Of(row) == NormaliseName.Of(recorded) ? recorded : row;
}
