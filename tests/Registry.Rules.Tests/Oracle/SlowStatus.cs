using Registry.Rules.Facts;

namespace Registry.Rules.Tests.Oracle;

/// <summary>
/// The status once more, written from the text of the standards each file names and not from the code: the facts are cut at the day, then
/// each rule is a sentence over sets. Slow, and meant to be read beside the text: a file for each section of docs/rules/infant-status.md.
/// </summary>
internal static class SlowStatus
{
    internal readonly record struct Reached(MilestoneState State, DateOnly DeadlineOn, DateOnly? DoneOn);

    internal sealed record Answer(
        EarResult Right, EarResult Left, ScreeningConclusion Screening,
        DateOnly? DecidedOn, Reached Screened, Reached Diagnosed, Reached Enrolled,
        HearingConclusion Hearing, EarHearing RightHearing, EarHearing LeftHearing, DateOnly? IdentifiedOn,
        string Dues, LossState Loss, PathStep? LostAt,
        SurveyCategory ScreeningCategory, SurveyCategory DiagnosisCategory, SurveyCategory InterventionCategory,
        StatusFlags Flags, Guid? ResponsibleSiteId);

    /// <summary>What the rules answered, in the same shape.</summary>
    public static Answer Of(InfantStatus s) => new(
        s.Right, s.Left, s.Screening, s.ScreenDecidedOn, ReachedOf(s.Screened), ReachedOf(s.Diagnosed), ReachedOf(s.Enrolled),
        s.Hearing, s.RightHearing, s.LeftHearing, s.IdentifiedOn, Words(s.Dues.Select(d => new SlowDue(d.DueOn, d.Step, d.Rule))),
        s.Loss, s.LostAt, s.ScreeningCategory, s.DiagnosisCategory, s.InterventionCategory, s.Flags, s.ResponsibleSiteId);

    public static Answer On(InfantFacts all, Policy policy, DateOnly asOf)
    {
        var known = new KnownFacts(all, policy, asOf);
        var screening = SlowScreening.Of(known);
        var diagnosis = new SlowDiagnosis(known, screening);
        var absences = new SlowAbsences(known, screening);
        var milestones = new SlowMilestones(known, screening, diagnosis, absences);
        var categories = new SlowCategories(known, screening, diagnosis, absences, milestones);

        var flags = SlowScreeningFlags.Of(known, screening);
        if (known.Conflict) flags |= StatusFlags.FactsConflict;
        if (new SlowHospital(known).IsIn && absences.Gone is null) flags |= StatusFlags.Inpatient;
        if (milestones.ToBeConfirmed) flags |= StatusFlags.DiagnosisToBeConfirmed;
        if (milestones.ScreeningOpen && known.AsOf > milestones.ScreeningBy && all.Birth.Place == BirthPlace.Home
            && !all.ContactAttempts.Any(c => c.Step == PathStep.Screening && known.By(c.AttemptedOn)))
            flags |= StatusFlags.HomeBirthNotContacted;
        var asked = new SlowDues(known, screening, diagnosis, absences, milestones, flags);
        var dues = asked.All().OrderBy(d => d.On).ThenBy(d => d.Step).ThenBy(d => d.Rule, StringComparer.Ordinal).ToList();
        if (asked.RepeatScreenAfterReadmission is not null) flags |= StatusFlags.RepeatScreenNeeded;
        if (screening.Passed && dues.Any(d => d.Step == DueStep.SurveillanceEvaluation)) flags |= StatusFlags.UnderSurveillance;

        return new(
            screening.RightResult, screening.LeftResult, screening.Conclusion, screening.DecidedOn,
            milestones.Screened, milestones.Diagnosed, milestones.Enrolled,
            diagnosis.Hearing, diagnosis.Right, diagnosis.Left, diagnosis.IdentifiedOn,
            Words(dues), categories.Lost.Loss, categories.Lost.At,
            categories.OfScreening, categories.OfDiagnosis, categories.OfIntervention, flags, ResponsibleSite(known));
    }

    /// <summary>Section 10: who has the infant discharges it home, and is responsible (a state's published rule; policy).</summary>
    private static Guid? ResponsibleSite(KnownFacts known) => !known.Policy.WhoDischargesIsResponsible ? known.All.Birth.SiteId
        : known.All.Transfers.Where(t => known.By(t.TransferredOn)).OrderBy(t => t.TransferredOn).ThenBy(t => t.ToSiteId)
            .Select(t => (Guid?)t.ToSiteId).LastOrDefault() ?? known.All.Birth.SiteId;

    private static Reached ReachedOf(Milestone m) => new(m.State, m.DeadlineOn, m.DoneOn);

    private static string Words(IEnumerable<SlowDue> dues) => string.Join(" ", dues.Select(d => $"{d.Step}:{d.On:yyyy-MM-dd}:{d.Rule}"));
}
