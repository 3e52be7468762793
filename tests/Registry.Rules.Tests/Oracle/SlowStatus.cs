using Registry.Rules.Facts;

namespace Registry.Rules.Tests.Oracle;

/// <summary>
/// The status once more, written from docs/rules/infant-status.md and not from the code: first cut the facts at the day,
/// then state each rule as a sentence over sets. Slow, and meant to be read beside the text (section numbers as there).
/// </summary>
public static class SlowStatus
{
    public sealed record Answer(
        EarResult Right, EarResult Left, ScreeningConclusion Screening,
        (MilestoneState State, DateOnly Deadline, DateOnly? Done) Screened,
        (MilestoneState State, DateOnly Deadline, DateOnly? Done) Diagnosed,
        (MilestoneState State, DateOnly Deadline, DateOnly? Done) Enrolled,
        HearingConclusion Hearing, EarHearing RightHearing, EarHearing LeftHearing, DateOnly? IdentifiedOn, string Dues, LossState Loss,
        PathStep? LostAt,
        SurveyCategory ScreeningCategory, SurveyCategory DiagnosisCategory, SurveyCategory InterventionCategory,
        StatusFlags Flags, Guid? ResponsibleSiteId);

    public static Answer Of(InfantStatus s) => new(
        s.Right, s.Left, s.Screening,
        (s.Screened.State, s.Screened.DeadlineOn, s.Screened.DoneOn), (s.Diagnosed.State, s.Diagnosed.DeadlineOn, s.Diagnosed.DoneOn),
        (s.Enrolled.State, s.Enrolled.DeadlineOn, s.Enrolled.DoneOn), s.Hearing, s.RightHearing, s.LeftHearing, s.IdentifiedOn,
        string.Join(" ", s.Dues.Select(d => $"{d.Step}:{d.DueOn:yyyy-MM-dd}:{d.Rule}")),
        s.Loss, s.LostAt, s.ScreeningCategory, s.DiagnosisCategory, s.InterventionCategory, s.Flags, s.ResponsibleSiteId);

    private sealed record Session(
        bool Birth, DateOnly From, DateOnly LastValid, (bool Pass, string Tech)? Right, (bool Pass, string Tech)? Left)
    {
        public bool Valid => Right is not null || Left is not null;
        public bool Both => Right is not null && Left is not null;
    }

    private sealed record Standing(
        (bool Pass, string Tech)? Right, (bool Pass, string Tech)? Left, DateOnly? CompleteOn, DateOnly? LastBoth,
        int Rescreens, bool OneEarOnly, bool OaeAfterAbr)
    {
        public bool Refers => Right is { Pass: false } || Left is { Pass: false };
        public bool Complete => Right is not null && Left is not null;
        public bool Passed => Complete && !Refers;
    }

    private static string Tech(ScreeningMethod m) => m.ToString().Contains("oae", StringComparison.OrdinalIgnoreCase) ? "OAE"
        : m.ToString().EndsWith("abr", StringComparison.OrdinalIgnoreCase) ? "ABR" : "?";

    public static Answer On(InfantFacts all, Policy policy, DateOnly asOf)
    {
        var born = all.Birth.Date;
        bool By(DateOnly d) => d <= asOf;
        static bool Valid(ScreeningTest t) => t.Outcome is ScreeningOutcome.Pass or ScreeningOutcome.Refer;
        DateOnly OnDay(ScreeningTest t) => DateOnly.FromDateTime(t.PerformedAt);
        DateOnly Later(DateOnly a, DateOnly b) => a > b ? a : b;
        DateOnly? died = all.DiedOn is { } d0 && By(d0) ? d0 : null;

        // 1 and 2: what counts as known, in order.
        var dated = all.Tests.Where(t => By(OnDay(t))).ToList();
        var evaluations = all.Evaluations.Where(e => By(e.EvaluatedOn)).ToList();
        var events = all.Interventions.Where(e => By(e.HappenedOn)).ToList();
        string[] outcomes = ["NotPerformed", "NoValidResult", "Pass", "Refer"];
        var tests = dated.Where(t => OnDay(t) >= born).OrderBy(t => t.PerformedAt)
            .ThenBy(t => Array.IndexOf(outcomes, t.Outcome.ToString()))
            .ThenBy(t => t.Method).ThenBy(t => t.Stage).ThenBy(t => t.SiteId).ThenBy(t => t.Ear).ThenBy(t => t.Reason).ToList();
        bool Ears(DiagnosticEvaluation e) => e.Right != EarFinding.NotEvaluated || e.Left != EarFinding.NotEvaluated;
        bool Loss(EarFinding f) => f is EarFinding.Conductive or EarFinding.Sensorineural or EarFinding.Mixed
            or EarFinding.AuditoryNeuropathy or EarFinding.LossUndetermined;
        bool Final(EarFinding f) => Loss(f) || f == EarFinding.Normal;
        bool Lasting(EarFinding f, bool? stated) => Loss(f) && (stated == true || stated is null && f != EarFinding.Conductive);
        int Grave(DiagnosticEvaluation e) => (Lasting(e.Right, e.Permanent) || Lasting(e.Left, e.Permanent) ? 10 : 0)
            + new[] { e.Right, e.Left }.Count(Loss);
        var visits = evaluations.Where(e => e.EvaluatedOn >= born && Ears(e))
            .OrderBy(e => e.EvaluatedOn).ThenBy(e => e.Provisional ? 0 : 1).ThenBy(Grave).ThenBy(e => e.Right).ThenBy(e => e.Left)
            .ThenBy(e => e.RightDegree).ThenBy(e => e.LeftDegree).ThenBy(e => e.Permanent).ToList();
        DateOnly? evaluatedFrom = visits.Count > 0 ? visits[0].EvaluatedOn : null;

        bool IsBirth(ScreeningTest t)
        {
            if (policy.TrustReportedStage && t.Stage != ScreeningStage.Unstated) return t.Stage == ScreeningStage.BirthAdmission;
            var end = all.Birth.DischargedOn ?? all.Birth.NicuDischargedOn;
            if (end is not null) return OnDay(t) <= end;
            if (all.Birth.NicuAdmittedOn is not null) return true;
            if (all.Birth.Place == BirthPlace.Home) return false;
            var hours = all.Birth.Time is { } time
                ? (t.PerformedAt - born.ToDateTime(time)).TotalHours
                : 24 * (OnDay(t).DayNumber - born.DayNumber);
            return hours <= policy.BirthAdmissionHours;
        }

        // Sessions as lists of attempts.
        var groups = new List<List<ScreeningTest>>();
        foreach (var t in tests.Where(t => t.Outcome != ScreeningOutcome.NotPerformed))
        {
            var open = groups.LastOrDefault();
            if (open is not null && open[0].SiteId == t.SiteId && IsBirth(open[0]) == IsBirth(t)
                && t.PerformedAt - open[0].PerformedAt <= TimeSpan.FromHours(policy.SessionHours)) open.Add(t);
            else groups.Add([t]);
        }

        // 3: from sessions to what counts, one standing after another.
        var standing = new Standing(null, null, null, null, 0, false, false);
        var usedGroups = new List<List<ScreeningTest>>();
        var birthValid = false;
        foreach (var group in groups)
        {
            if (evaluatedFrom < OnDay(group[0]) && standing.Refers) break;
            usedGroups.Add(group);
            var blockedSomewhere = false;
            (bool Pass, string Tech)? InSession(Ear ear, (bool Pass, string Tech)? counting) => group
                .Where(t => t.Ear == ear && Valid(t))
                .Aggregate(((bool Pass, string Tech)?)null, (soFar, t) =>
                {
                    var said = (t.Outcome == ScreeningOutcome.Pass, Tech(t.Method));
                    if (policy.OaeMayClearAbrRefer || said != (true, "OAE") || (soFar ?? counting) != (false, "ABR")) return said;
                    blockedSomewhere = true;
                    return (false, "ABR");
                });
            var valid = group.Where(Valid).ToList();
            var session = new Session(IsBirth(group[0]), OnDay(group[0]), valid.Count > 0 ? OnDay(valid[^1]) : default,
                InSession(Ear.Right, standing.Right), InSession(Ear.Left, standing.Left));
            standing = standing with { OaeAfterAbr = standing.OaeAfterAbr || blockedSomewhere };
            if (!session.Valid) continue;

            var rescreen = !session.Birth && (birthValid || standing.CompleteOn is not null);
            var combine = rescreen ? policy.CombineEarsAcrossRescreens : policy.CombineEarsInInitialScreen;
            birthValid |= session.Birth;
            bool Counts((bool Pass, string Tech)? r) => r is not null && (session.Both || combine || !r.Value.Pass);
            var next = standing with
            {
                Right = Counts(session.Right) ? session.Right : standing.Right,
                Left = Counts(session.Left) ? session.Left : standing.Left,
                LastBoth = session.Both ? session.LastValid : standing.LastBoth,
                Rescreens = standing.Rescreens + (rescreen && session.Both && !standing.Passed ? 1 : 0),
                OneEarOnly = rescreen && session.Both ? false : standing.OneEarOnly || rescreen && !combine,
            };
            standing = next with { CompleteOn = next.CompleteOn ?? (next.Complete ? session.LastValid : null) };
        }

        var used = usedGroups.SelectMany(g => g).ToList();
        EarResult EarOf(Ear ear, (bool Pass, string Tech)? counting) => counting is { } c ? c.Pass ? EarResult.Pass : EarResult.Refer
            : used.Any(t => t.Ear == ear) ? EarResult.NoValidResult : EarResult.NotScreened;
        var (right, left) = (EarOf(Ear.Right, standing.Right), EarOf(Ear.Left, standing.Left));
        var conclusion = standing.Passed ? ScreeningConclusion.Passed
            : standing.Complete ? right == left ? ScreeningConclusion.ReferredBothEars : ScreeningConclusion.ReferredOneEar
            : used.Count > 0 ? ScreeningConclusion.Incomplete : ScreeningConclusion.NotScreened;

        ScreeningTest? notPerformed = tests.Count > 0 && tests[^1].Outcome == ScreeningOutcome.NotPerformed ? tests[^1] : null;

        // 4: flags of screening.
        var flags = StatusFlags.None;
        var firstValid = used.Where(Valid).Select(t => (ScreeningTest?)t).FirstOrDefault();
        if (firstValid is { } f && all.Birth.Time is { } birthTime)
        {
            var hours = (f.PerformedAt - born.ToDateTime(birthTime)).TotalHours;
            if (hours < (Tech(f.Method) == "ABR" ? policy.EarliestAbrHours : policy.EarliestOaeHours)) flags |= StatusFlags.ScreenedEarly;
        }

        var overScreened = used.Where(t => IsBirth(t) && Valid(t))
            .GroupBy(t => (t.Ear, Tech(t.Method))).Any(g => g.Count() > policy.MaxValidAttempts);
        if (overScreened) flags |= StatusFlags.OverScreened;
        if (standing.Rescreens > policy.MaxRescreens) flags |= StatusFlags.RescreenedTooOften;
        if (standing.OneEarOnly) flags |= StatusFlags.RescreenNotBothEars;
        if (standing.OaeAfterAbr) flags |= StatusFlags.OaeAfterAbrRefer;

        var risks = all.RiskIndicators.Where(r => By(r.NotedOn)).ToList();
        var longNicu = risks.Any(r => r.Kind == RiskIndicatorKind.NicuOverFiveDays);
        if (all.Birth.NicuAdmittedOn is { } admittedOn && By(admittedOn))
        {
            var end = all.Birth.NicuDischargedOn is { } out_ && By(out_) ? out_ : asOf;
            longNicu |= end.DayNumber - admittedOn.DayNumber > policy.NicuDays;
        }

        ScreeningOutcome? LastAbr(Ear ear) => used.Where(t => t.Ear == ear && Tech(t.Method) == "ABR" && Valid(t))
            .Select(t => (ScreeningOutcome?)t.Outcome).LastOrDefault();
        var oaeOnly = (standing.Right == (true, "OAE") && LastAbr(Ear.Right) != ScreeningOutcome.Pass)
            || (standing.Left == (true, "OAE") && LastAbr(Ear.Left) != ScreeningOutcome.Pass);
        if (longNicu && conclusion == ScreeningConclusion.Passed && oaeOnly) flags |= StatusFlags.OaeOnlyInNicu;

        // 1: contradictions.
        var conflict = dated.Any(t => OnDay(t) < born) || evaluations.Any(e => e.EvaluatedOn < born) || events.Any(e => e.HappenedOn < born)
            || all.Birth.DischargedOn < born || all.Birth.NicuAdmittedOn < born
            || all.Birth.NicuDischargedOn < (all.Birth.NicuAdmittedOn ?? born)
            || died is not null && (tests.Any(t => OnDay(t) > died) || visits.Any(v => v.EvaluatedOn > died)
                || events.Any(e => e.HappenedOn > died && e.HappenedOn >= born));
        if (conflict) flags |= StatusFlags.FactsConflict;

        // 5: diagnosis. What stands after each visit.
        var after = Enumerable.Range(1, visits.Count).Select(n =>
        {
            var finals = visits.Take(n).Where(v => !v.Provisional).ToList();
            var r = finals.LastOrDefault(v => Final(v.Right));
            var l = finals.LastOrDefault(v => Final(v.Left));
            var (hasR, hasL) = (finals.Any(v => Final(v.Right)), finals.Any(v => Final(v.Left)));
            var permanent = hasR && Lasting(r.Right, r.Permanent) || hasL && Lasting(l.Left, l.Permanent);
            var complete = permanent || hasR && hasL
                || !policy.EvaluateBothEars && (hasL && right == EarResult.Pass || hasR && left == EarResult.Pass);
            var loss = hasR && Loss(r.Right) || hasL && Loss(l.Left);
            return (On: visits[n - 1].EvaluatedOn, permanent, complete, loss);
        }).ToList();
        DateOnly? diagnosedOn = after.Any(a => a.complete) ? after.First(a => a.complete).On : null;
        DateOnly? identifiedOn = after.Count > 0 && after[^1].permanent
            ? after.Skip(after.FindLastIndex(a => !a.permanent) + 1).First().On : null;
        var closed = after.Count > 0 && after[^1].complete && !visits[^1].Provisional;
        DateOnly? lastVisit = visits.Count > 0 ? visits[^1].EvaluatedOn : null;
        var fulls = visits.Where(v => !v.Provisional && Final(v.Right) && Final(v.Left)).Select(v => (DateOnly?)v.EvaluatedOn).ToList();
        var lastFull = fulls.Count > 0 ? fulls.Max() : null;
        var hearing = after.Count == 0 ? HearingConclusion.NotEvaluated
            : after[^1].permanent ? HearingConclusion.PermanentLoss
            : !after[^1].complete ? HearingConclusion.InProcess
            : after[^1].loss ? HearingConclusion.NonPermanentLoss : HearingConclusion.Normal;

        EarHearing StandingOf(Func<DiagnosticEvaluation, (EarFinding Finding, LossDegree Degree)> ear) =>
            visits.Where(v => !v.Provisional && Final(ear(v).Finding))
                .Select(v => new EarHearing(ear(v).Finding, ear(v).Degree, Lasting(ear(v).Finding, v.Permanent))).LastOrDefault();

        // 6: absences.
        var lastMove = all.Moves.Where(m => By(m.MovedOn)).OrderBy(m => m.MovedOn).ThenBy(m => m.Kind).Select(m => (Move?)m)
            .LastOrDefault();
        (string Why, DateOnly From)? gone = died is { } dd ? ("died", dd)
            : lastMove is { } mv && mv.Kind != MoveKind.Returned ? (mv.Kind == MoveKind.Adopted ? "adopted" : "moved", mv.MovedOn) : null;
        DateOnly? Declined(PathStep step)
        {
            var days = all.Refusals.Where(x => x.Step == step && By(x.RefusedOn) && !(x.RevokedOn is { } back && By(back)))
                .Select(x => x.RefusedOn).ToList();
            if (step == PathStep.Screening && notPerformed is { Reason: ScreeningReason.Declined } np) days.Add(OnDay(np));
            return days.Count > 0 ? days.Min() : null;
        }

        (string Why, DateOnly From)? DeclinedFrom(PathStep step) => Declined(step) is { } on ? ("declined", on) : null;
        (string Why, DateOnly From)? straight = standing.CompleteOn is not null ? null
            : evaluatedFrom is { } began ? ("straight", began)
            : notPerformed is { Reason: ScreeningReason.StraightToDiagnostic } npd ? ("straight", OnDay(npd)) : null;
        var known = events.Where(e => e.HappenedOn >= born).ToList();
        DateOnly? First(params InterventionKind[] kinds) => known.Where(e => kinds.Contains(e.Kind)).Select(e => (DateOnly?)e.HappenedOn)
            .Min();
        DateOnly? Last(InterventionKind kind) => known.Where(e => e.Kind == kind).Select(e => (DateOnly?)e.HappenedOn).Max();
        DateOnly? notEligible = Last(InterventionKind.NotEligible) is { } ne && !(Last(InterventionKind.Eligible) >= ne) ? ne : null;

        // 7: milestones.
        var from = policy.CorrectForPrematurity && all.Birth.GestationWeeks < 37
            ? born.AddDays(7 * (40 - all.Birth.GestationWeeks!.Value)) : born;
        DateOnly End(Deadline dl, DateOnly start)
        {
            var day = dl.Unit == DeadlineUnit.Days ? start.AddDays(dl.Amount) : start.AddMonths(dl.Amount);
            return dl.Inclusive ? day : day.AddDays(-1);
        }

        var (end1, end2, end3) = (End(policy.ScreeningDeadline, from), End(policy.DiagnosisDeadline, from),
            End(policy.InterventionDeadline, from));
        var clearedBefore = after.Any(a => a.On < identifiedOn && a.complete);
        if (identifiedOn is { } idf && (conclusion == ScreeningConclusion.Passed || clearedBefore)) end3 = Later(end3, idf.AddDays(45));
        (MilestoneState, DateOnly, DateOnly?) Milestone(bool required, DateOnly end, DateOnly? done, (string Why, DateOnly From)? absent) =>
            (!required ? MilestoneState.NotRequired
                : done is { } on ? on <= end ? MilestoneState.Met : MilestoneState.Late
                : absent is { } a && a.From <= end ? MilestoneState.Excluded
                : asOf > end ? MilestoneState.Missed : MilestoneState.Pending, end, required ? done : null);
        var absent1 = straight ?? gone ?? DeclinedFrom(PathStep.Screening);
        var needsDiagnosis = standing.Refers || straight is not null;
        var absent2 = gone ?? DeclinedFrom(PathStep.Diagnosis);
        var needsHelp = identifiedOn is not null;
        var absent3 = gone ?? DeclinedFrom(PathStep.Intervention) ?? (notEligible is { } no ? ("not eligible", no) : null);
        var enrolledOn = policy.ServicePlanCountsAsEnrolled
            ? First(InterventionKind.Enrolled, InterventionKind.ServicePlan) : First(InterventionKind.Enrolled);
        var (open1, open2, open3) = (standing.CompleteOn is null && absent1 is null,
            needsDiagnosis && diagnosedOn is null && absent2 is null, needsHelp && enrolledOn is null && absent3 is null);

        // 8: category and loss.
        bool Medical(PathStep step) => all.MedicalDelays.Any(x => x.Step == step && By(x.FromOn) && !(x.EndedOn is { } e && By(e)));
        SurveyCategory ByLoss(PathStep step, DateOnly end, DateOnly? held)
        {
            if (Medical(step)) return SurveyCategory.Medical;
            var contacts = all.ContactAttempts.Where(c => c.Step == step && By(c.AttemptedOn)).ToList();
            var holds = contacts.Where(c => c.Outcome == ContactOutcome.AppointmentMade)
                .Select(c => c.AttemptedOn.AddDays(policy.AppointmentHoldDays))
                .Append(end.AddDays(policy.LossGraceDays)).Append(held ?? DateOnly.MinValue);
            if (asOf <= holds.Max()) return SurveyCategory.InProcess;
            if (contacts.Count >= policy.ContactAttemptsForLoss)
                return contacts.All(c => c.Outcome == ContactOutcome.UnableToContact)
                    ? SurveyCategory.UnableToContact : SurveyCategory.Unresponsive;
            if (step != PathStep.Screening) return SurveyCategory.Unknown;
            if (notPerformed is { Reason: ScreeningReason.Transferred } || all.Transfers.Any(t => By(t.TransferredOn)))
                return SurveyCategory.TransferredWithoutDocumentation;
            return all.Birth.Place == BirthPlace.Home ? SurveyCategory.Homebirth : SurveyCategory.Unknown;
        }

        SurveyCategory Line((string Why, DateOnly From)? a, PathStep step) => a?.Why switch
        {
            "died" => SurveyCategory.Died,
            "adopted" => step == PathStep.Intervention ? SurveyCategory.Adopted : SurveyCategory.NonResidentOrMoved,
            "moved" => SurveyCategory.NonResidentOrMoved,
            "declined" => SurveyCategory.Declined,
            "straight" => SurveyCategory.StraightToDiagnostic,
            _ => SurveyCategory.NotEligible,
        };
        var category1 = standing.CompleteOn is not null ? SurveyCategory.Completed
            : absent1 is not null ? Line(absent1, PathStep.Screening)
            : notPerformed is { Reason: ScreeningReason.MedicalExclusion } ? SurveyCategory.Medical
            : ByLoss(PathStep.Screening, end1, null);
        var category2 = !needsDiagnosis ? SurveyCategory.NotApplicable : diagnosedOn is not null ? SurveyCategory.Completed
            : absent2 is not null ? Line(absent2, PathStep.Diagnosis)
            : ByLoss(PathStep.Diagnosis, end2, lastVisit?.AddDays(policy.DiagnosisInProcessDays));
        var category3 = !needsHelp ? SurveyCategory.NotApplicable : enrolledOn is not null ? SurveyCategory.Completed
            : absent3 is not null ? Line(absent3, PathStep.Intervention)
            : ByLoss(PathStep.Intervention, end3, known.Select(e => (DateOnly?)e.HappenedOn).Max()?.AddDays(45));
        LossState Lost(SurveyCategory c) => c is SurveyCategory.Unresponsive or SurveyCategory.UnableToContact ? LossState.LostToFollowUp
            : c == SurveyCategory.Unknown ? LossState.LostToDocumentation : LossState.None;
        var lostAt = new[] { (PathStep.Screening, category1), (PathStep.Diagnosis, category2), (PathStep.Intervention, category3) }
            .Where(x => Lost(x.Item2) != LossState.None).Select(x => ((PathStep, SurveyCategory)?)x).FirstOrDefault();

        // 9: dues.
        var dues = new List<(DateOnly On, DueStep Step, string Rule)>();
        if (gone is null)
        {
            var until = End(policy.RescreenUntil, from);
            var rescreenDue = Declined(PathStep.Screening) is null && standing.Refers && !(longNicu && policy.NicuReferToAudiology)
                && visits.Count == 0 && standing.Rescreens < policy.MaxRescreens && asOf <= until;
            if (rescreenDue) dues.Add((until, DueStep.Rescreen, "screening.rescreen"));
            if (!standing.Refers && open1)
                dues.Add(used.Count > 0 ? (end1, DueStep.CompleteScreen, "screening.complete") : (
                    end1, DueStep.Screen, "screening.deadline"));
            if (Declined(PathStep.Screening) is null && conclusion == ScreeningConclusion.Passed && !(closed && lastFull is not null))
            {
                if (flags.HasFlag(StatusFlags.OaeOnlyInNicu)) dues.Add((end1, DueStep.RepeatScreen, "screening.abr-in-nicu"));
                var again = all.Readmissions.Where(r => r.RaisesRisk && r.AdmittedOn >= born && By(r.AdmittedOn)
                        && r.AdmittedOn <= End(policy.ReadmissionUntil, born)
                        && !(standing.LastBoth >= r.AdmittedOn) && !(lastVisit >= r.AdmittedOn))
                    .Select(r => r.DischargedOn ?? Later(end1, r.AdmittedOn)).ToList();
                if (again.Count > 0)
                {
                    flags |= StatusFlags.RepeatScreenNeeded;
                    dues.Add((again.Min(), DueStep.RepeatScreen, "screening.readmission"));
                }
            }

            if (Declined(PathStep.Diagnosis) is null)
            {
                if (lastVisit is { } v && !closed)
                    dues.Add((v <= end2 ? end2 : v.AddDays(policy.DiagnosisInProcessDays), DueStep.CompleteDiagnosis,
                        "diagnosis.complete"));
                if (lastVisit is null && open2 && !rescreenDue)
                    dues.Add((end2, DueStep.DiagnosticEvaluation,
                        standing.Refers && longNicu && policy.NicuReferToAudiology ? "diagnosis.nicu" : "diagnosis.deadline"));
            }

            if (Declined(PathStep.Intervention) is null && identifiedOn is { } id)
            {
                var referred = First(InterventionKind.Referred);
                var ended = known.Any(e => e.Kind == InterventionKind.Ended);
                var over = ended || notEligible is not null;
                if (referred is null && enrolledOn is null && !over)
                    dues.Add((id.AddDays(7), DueStep.ReferToIntervention, "intervention.referral"));
                if (referred is { } r && First(InterventionKind.ServicePlan) is null && !over)
                    dues.Add((r.AddDays(45), DueStep.ServicePlan, "intervention.service-plan"));
                if (open3 && !ended) dues.Add((end3, DueStep.EnrolInIntervention, "intervention.deadline"));
                if (!known.Any(e => e.Kind is InterventionKind.AmplificationFitted or InterventionKind.AmplificationDeclined))
                    dues.Add((End(policy.AmplificationDeadline, id), DueStep.AmplificationFitting, "amplification.fitting"));
            }

            if (Declined(PathStep.Diagnosis) is null && identifiedOn is null)
            {
                var underWay = open2 || visits.Count > 0 && !closed;
                var cleared = !underWay && (conclusion == ScreeningConclusion.Passed || closed);
                var asks = risks.Where(r => r.Kind != RiskIndicatorKind.NicuOverFiveDays).Select(r => (r.Kind, On: Later(r.NotedOn, born)))
                    .Concat(longNicu ? [(RiskIndicatorKind.NicuOverFiveDays, born)] : [])
                    .Where(r => cleared || r.Kind == RiskIndicatorKind.CaregiverConcern);
                foreach (var (kind, on) in asks)
                {
                    var time = policy.Surveillance.Single(t => t.Kind == kind);
                    var countsFrom = time.NotBeforeAgeMonths is { } m ? Later(on, born.AddMonths(m)) : on;
                    var answered = lastFull >= countsFrom;
                    DateOnly? due = answered ? time.EveryMonths is { } every ? lastFull!.Value.AddMonths(every) : null
                        : time.ByAgeMonths is { } age ? Later(born.AddMonths(age), on) : on.AddMonths(time.WithinMonths!.Value);
                    var limit = time.UntilAgeYears is { } years ? born.AddYears(years) : DateOnly.MaxValue;
                    if (due is not { } dueOn || dueOn >= limit || asOf >= limit) continue;
                    var rule = $"surveillance.{Codes.Of(kind).Replace('_', '-')}";
                    if (dues.FirstOrDefault(x => x.Rule == rule) is { Rule: not null } other && other.On <= dueOn) continue;
                    dues.RemoveAll(x => x.Rule == rule);
                    dues.Add((dueOn, DueStep.SurveillanceEvaluation, rule));
                }

                if (conclusion == ScreeningConclusion.Passed && dues.Any(x => x.Step == DueStep.SurveillanceEvaluation))
                    flags |= StatusFlags.UnderSurveillance;
                if (cleared && Declined(PathStep.Screening) is null && lastFull is null
                    && (LastAbr(Ear.Right) is null || LastAbr(Ear.Left) is null))
                {
                    var zika = risks.Where(r => r.Kind == RiskIndicatorKind.ZikaLaboratoryAndClinical)
                        .Select(r => Later(born.AddMonths(1), r.NotedOn)).ToList();
                    if (zika.Count > 0) dues.Add((zika.Min(), DueStep.RepeatScreen, "screening.abr-for-indicator"));
                }
            }
        }

        var sites = all.Transfers.Where(t => By(t.TransferredOn)).OrderBy(t => t.TransferredOn).ThenBy(t => t.ToSiteId)
            .Select(t => (Guid?)t.ToSiteId).ToList();
        return new(
            right, left, conclusion,
            Milestone(true, end1, standing.CompleteOn, absent1), Milestone(needsDiagnosis, end2, diagnosedOn, absent2),
            Milestone(needsHelp, end3, enrolledOn, absent3), hearing,
            StandingOf(v => (v.Right, v.RightDegree)), StandingOf(v => (v.Left, v.LeftDegree)), identifiedOn,
            string.Join(" ", dues.OrderBy(d => d.On).ThenBy(d => d.Step).ThenBy(d => d.Rule, StringComparer.Ordinal)
                .Select(d => $"{d.Step}:{d.On:yyyy-MM-dd}:{d.Rule}")),
            lostAt is { } la ? Lost(la.Item2) : LossState.None, lostAt?.Item1, category1, category2, category3, flags,
            sites.Count > 0 ? sites[^1] : all.Birth.SiteId);
    }
}
