using Registry.Rules.Facts;
using static Registry.Rules.SurveyCategory;

namespace Registry.Rules.Measures;

/// <summary>
/// The tabulation of the national survey (CDC Hearing Screening and Follow-up Survey): screening, diagnosis, intervention,
/// each with the reasons why a step was not done, one reason an infant. Ages are "before 1/3/6 months": calendar months,
/// the boundary day not in time.
/// </summary>
/// <remarks>
/// Where we differ. A year still in progress has infants in no published line; they are counted "in process" where the survey
/// has no such line (screening, intervention). Loss found after a pass or without a screen stands beside the diagnosis lines,
/// which follow those who did not pass, and is part of the intervention lines.
/// </remarks>
public static class NationalSurvey
{
    private static readonly Source Survey =
        new("CDC Hearing Screening and Follow-up Survey, tables of 2015, 2019 and 2022", SourceMark.Found);

    private static readonly Source ByLastScreen = new(
        "CDC Hearing Screening and Follow-up Survey. Age counts at the most recent screen: inferred from 2015, where a jurisdiction "
        + "has 97.7 % of passes but 8.6 % of not-passes before 1 month", SourceMark.Inferred);

    private static readonly Deadline BeforeOneMonth = new(1, DeadlineUnit.Months, Inclusive: false);
    private static readonly Deadline BeforeThreeMonths = new(3, DeadlineUnit.Months, Inclusive: false);
    private static readonly Deadline BeforeSixMonths = new(6, DeadlineUnit.Months, Inclusive: false);

    private static readonly (SurveyCategory Category, string Name)[] NotScreenedReasons =
    [
        (StraightToDiagnostic, "Straight to diagnostic evaluation"), (Died, "Infant died"),
        (NonResidentOrMoved, "Non-resident or moved"), (Medical, "Medical reason"), (Declined, "Declined by the family"),
        (TransferredWithoutDocumentation, "Transferred, no documentation"), (Homebirth, "Home birth"),
        (Unresponsive, "Contacted, unresponsive"), (UnableToContact, "Unable to contact"), (Unknown, "Unknown"),
        (Other, "Other"), (InProcess, "In process (not a line of the survey)"),
    ];

    private static readonly (SurveyCategory Category, string Name)[] NotDiagnosedReasons =
    [
        (InProcess, "In process"), (Died, "Infant died"), (NonResidentOrMoved, "Non-resident or moved"),
        (Medical, "Medical reason"), (Declined, "Declined by the family"), (Unresponsive, "Contacted, unresponsive"),
        (UnableToContact, "Unable to contact"), (Unknown, "Unknown"), (Other, "Other"),
    ];

    private static readonly (SurveyCategory Category, string Name)[] NotEnrolledReasons =
    [
        (NotEligible, "Not eligible for Part C"), (Died, "Infant died"), (Medical, "Medical reason"),
        (Declined, "Declined by the family"), (Adopted, "Adopted"), (Unresponsive, "Contacted, unresponsive"),
        (UnableToContact, "Unable to contact"), (Unknown, "Unknown"), (Other, "Other"),
        (InProcess, "In process (not a line of the survey)"),
    ];

    public static MeasureSet Screening { get; } = new(
        [
            Line.Of("births", "Births reported to the program", i => i.BornInRegion),
            .. Residence.Lines,
            Line.Of("screening.screened", "Screened", i => Here(i) && i.Screened),
            Line.Of("screening.pass", "Pass", i => Here(i) && i.Passed),
            Line.Of("screening.not_pass", "Not pass", i => Here(i) && i.NotPassed),
            Line.Of("screening.before_1_month", "Screened before 1 month", i => Here(i) && i.Within(i.LastScreenedOn, BeforeOneMonth)),
            Line.Of("screening.pass.before_1_month", "Pass before 1 month",
                i => Here(i) && i.Passed && i.Within(i.LastScreenedOn, BeforeOneMonth)),
            Line.Of("screening.not_pass.before_1_month", "Not pass before 1 month",
                i => Here(i) && i.NotPassed && i.Within(i.LastScreenedOn, BeforeOneMonth)),
            Line.Of("screening.none", "Not screened", i => Here(i) && !i.Screened),
            .. Reasons("screening.none", NotScreenedReasons, i => Here(i) && !i.Screened, i => i.Status.ScreeningCategory),
            .. Lost("screening", i => Here(i) && !i.Screened, i => i.Status.ScreeningCategory),
            .. ScreeningPath.Lines,
        ],
        [
            Of("screening.screened.of_births", "Screened, of births reported to the program", "screening.screened", "births", Survey),
            Of("screening.screened.of_vital_births", "Screened, of births in vital records",
                "screening.screened", MeasureSet.VitalBirths, Survey) with { OfOthers = true },
            Of("screening.before_1_month.of_screened", "Screened before 1 month, of screened",
                "screening.before_1_month", "screening.screened", ByLastScreen),
            Of("screening.pass.before_1_month.of_pass", "Pass before 1 month, of pass",
                "screening.pass.before_1_month", "screening.pass", ByLastScreen),
            Of("screening.not_pass.before_1_month.of_not_pass", "Not pass before 1 month, of not pass",
                "screening.not_pass.before_1_month", "screening.not_pass", ByLastScreen),
            Of("screening.not_pass.of_screened", "Not pass, of screened", "screening.not_pass", "screening.screened", Survey),
            Of("screening.lost.of_births", "Lost to follow-up before screening, of births", "screening.lost", "births", Survey),
        ],
        [
            new("Screened and not screened are the births", "births", ["screening.screened", "screening.none"]),
            new("Pass and not pass are the screened", "screening.screened", ["screening.pass", "screening.not_pass"]),
            new("Before 1 month: pass and not pass", "screening.before_1_month",
                ["screening.pass.before_1_month", "screening.not_pass.before_1_month"]),
            Residence.Sum,
            new("The reasons are the not screened", "screening.none", Codes("screening.none", NotScreenedReasons)),
            new("Lost to follow-up: the two ways", "screening.lost", ["screening.lost.unresponsive", "screening.lost.unable_or_unknown"]),
            .. ScreeningPath.Sums,
        ]);

    public static MeasureSet Diagnosis { get; } = new(
        [
            Line.Of("diagnosis.documented", "Diagnosis documented", Documented),
            Line.Of("diagnosis.no_loss", "No permanent hearing loss", i => Documented(i) && !i.PermanentLoss),
            Line.Of("diagnosis.loss", "Permanent hearing loss", i => Documented(i) && i.PermanentLoss),
            Line.Of("diagnosis.before_3_months", "Diagnosed before 3 months",
                i => Documented(i) && i.Within(i.DiagnosedOn, BeforeThreeMonths)),
            Line.Of("diagnosis.no_loss.before_3_months", "No permanent hearing loss, before 3 months",
                i => Documented(i) && !i.PermanentLoss && i.Within(i.DiagnosedOn, BeforeThreeMonths)),
            Line.Of("diagnosis.loss.before_3_months", "Permanent hearing loss, before 3 months",
                i => Documented(i) && i.PermanentLoss && i.Within(i.DiagnosedOn, BeforeThreeMonths)),
            Line.Of("diagnosis.none", "No documented diagnosis", i => Due(i) && !i.Diagnosed),
            .. Reasons("diagnosis.none", NotDiagnosedReasons, i => Due(i) && !i.Diagnosed,
                i => i.Status.DiagnosisCategory switch
                {
                    Adopted => NonResidentOrMoved,
                    TransferredWithoutDocumentation or StraightToDiagnostic or Homebirth or NotEligible => Other,
                    var category => category,
                }),
            .. Lost("diagnosis", i => Due(i) && !i.Diagnosed, i => i.Status.DiagnosisCategory),
            .. LossKind.Lines,
        ],
        [
            Of("diagnosis.no_loss.of_not_pass", "No permanent hearing loss, of not pass",
                "diagnosis.no_loss", "screening.not_pass", Survey),
            Of("diagnosis.loss.of_not_pass", "Permanent hearing loss, of not pass", "diagnosis.loss", "screening.not_pass", Survey),
            Of("diagnosis.before_3_months.of_documented", "Diagnosed before 3 months, of diagnosed",
                "diagnosis.before_3_months", "diagnosis.documented", Survey),
            Of("diagnosis.before_3_months.of_not_pass", "Diagnosed before 3 months, of not pass",
                "diagnosis.before_3_months", "screening.not_pass", Survey),
            Of("diagnosis.lost.of_not_pass", "Lost to follow-up before diagnosis, of not pass",
                "diagnosis.lost", "screening.not_pass", Survey),
            Of("diagnosis.lost.unresponsive.of_not_pass", "Lost to follow-up before diagnosis: unresponsive, of not pass",
                "diagnosis.lost.unresponsive", "screening.not_pass", Survey),
            Of("diagnosis.lost.unable_or_unknown.of_not_pass",
                "Lost to follow-up before diagnosis: unable to contact or unknown, of not pass",
                "diagnosis.lost.unable_or_unknown", "screening.not_pass", Survey),
            Of("diagnosis.loss.of_screened", "Prevalence: permanent hearing loss, per 1,000 screened",
                "diagnosis.loss", "screening.screened", Survey) with { Per = 1000 },
        ],
        [
            new("Diagnosed and not diagnosed are those who did not pass", "screening.not_pass", ["diagnosis.documented", "diagnosis.none"]),
            new("No permanent hearing loss and permanent hearing loss are the diagnosed",
                "diagnosis.documented", ["diagnosis.no_loss", "diagnosis.loss"]),
            new("Before 3 months: with and without permanent hearing loss", "diagnosis.before_3_months",
                ["diagnosis.no_loss.before_3_months", "diagnosis.loss.before_3_months"]),
            new("The reasons are the not diagnosed", "diagnosis.none", Codes("diagnosis.none", NotDiagnosedReasons)),
            new("Lost to follow-up: the two ways", "diagnosis.lost", ["diagnosis.lost.unresponsive", "diagnosis.lost.unable_or_unknown"]),
            .. LossKind.Sums,
        ]);

    public static MeasureSet Intervention { get; } = new(
        [
            Line.Of("loss", "Permanent hearing loss, however found", Loss),
            Line.Of("loss.non_resident", "Permanent hearing loss, of non-residents",
                i => Loss(i) && i.Gone is { Kind: MoveKind.NonResident }),
            Line.Of("loss.after_pass_or_without_screen", "Permanent hearing loss after a pass or without a screen",
                i => Loss(i) && !(i.NotPassed && i.Diagnosed)),
            Line.Of("intervention.referred", "Referred to early intervention",
                i => Loss(i) && i.First(InterventionKind.Referred) is not null),
            Line.Of("intervention.enrolled", "Enrolled in early intervention", i => Loss(i) && i.Enrolled),
            Line.Of("intervention.before_6_months", "Enrolled before 6 months", i => Loss(i) && i.Within(i.EnrolledOn, BeforeSixMonths)),
            Line.Of("intervention.none", "Not enrolled", i => Loss(i) && !i.Enrolled),
            Line.Of("intervention.other_services", "Services other than Part C, not enrolled in it",
                i => NotEnrolled(i) && ServedElsewhere(i) == InterventionKind.OtherServices),
            Line.Of("intervention.monitoring_only", "Monitoring only, without services",
                i => NotEnrolled(i) && ServedElsewhere(i) == InterventionKind.MonitoringOnly),
            Line.Of("intervention.none.non_resident", "Non-resident", i => NotEnrolled(i) && NonResident(i)),
            Line.Of("intervention.none.moved", "Moved",
                i => NotEnrolled(i) && i.Status.InterventionCategory == NonResidentOrMoved && !NonResident(i)),
            .. Reasons("intervention.none", NotEnrolledReasons, NotEnrolled,
                i => i.Status.InterventionCategory switch
                {
                    TransferredWithoutDocumentation or StraightToDiagnostic or Homebirth => Other,
                    var category => category,
                }),
            .. Lost("intervention", NotEnrolled, i => i.Status.InterventionCategory),
        ],
        [
            Of("intervention.referred.of_loss", "Referred, of permanent hearing loss", "intervention.referred", "loss", Survey),
            Of("intervention.enrolled.of_loss", "Enrolled, of permanent hearing loss", "intervention.enrolled", "loss", Survey),
            Of("intervention.before_6_months.of_enrolled", "Enrolled before 6 months, of enrolled",
                "intervention.before_6_months", "intervention.enrolled", Survey),
            Of("intervention.before_6_months.of_loss", "Enrolled before 6 months, of permanent hearing loss",
                "intervention.before_6_months", "loss", Survey),
            Of("intervention.lost.of_loss", "Lost to follow-up before intervention, of permanent hearing loss",
                "intervention.lost", "loss", Survey),
            Of("intervention.lost.unresponsive.of_loss", "Lost to follow-up before intervention: unresponsive, of permanent hearing loss",
                "intervention.lost.unresponsive", "loss", Survey),
            Of("intervention.lost.unable_or_unknown.of_loss",
                "Lost to follow-up before intervention: unable to contact or unknown, of permanent hearing loss",
                "intervention.lost.unable_or_unknown", "loss", Survey),
        ],
        [
            new("Permanent hearing loss: after a not-pass, or after a pass or without a screen", "loss",
                ["diagnosis.loss", "loss.after_pass_or_without_screen"]),
            new("Enrolled and not enrolled are those with permanent hearing loss", "loss", ["intervention.enrolled", "intervention.none"]),
            new("The reasons are the not enrolled", "intervention.none",
                ["intervention.none.non_resident", "intervention.none.moved", .. Codes("intervention.none", NotEnrolledReasons)]),
            new("Lost to follow-up: the two ways",
                "intervention.lost", ["intervention.lost.unresponsive", "intervention.lost.unable_or_unknown"]),
        ]);

    private static bool Here(MeasuredInfant i) => i.BornInRegion;

    /// <summary>Did not pass the most recent screen: followed by the diagnosis lines.</summary>
    private static bool Due(MeasuredInfant i) => Here(i) && i.NotPassed;

    private static bool Documented(MeasuredInfant i) => Due(i) && i.Diagnosed;

    private static bool Loss(MeasuredInfant i) => Here(i) && i.PermanentLoss;

    private static bool NotEnrolled(MeasuredInfant i) => Loss(i) && !i.Enrolled;

    private static bool NonResident(MeasuredInfant i) =>
        i.Status.InterventionCategory == NonResidentOrMoved && i.Gone is { Kind: MoveKind.NonResident };

    /// <summary>The last word on services other than Part C, or monitoring; of both on one day, services.</summary>
    private static InterventionKind? ServedElsewhere(MeasuredInfant i) => i.Facts.Interventions
        .Where(e => e.Kind is InterventionKind.OtherServices or InterventionKind.MonitoringOnly && e.HappenedOn <= i.AsOf)
        .OrderBy(e => e.HappenedOn).ThenByDescending(e => e.Kind).Select(e => (InterventionKind?)e.Kind).LastOrDefault();

    private static IEnumerable<Line> Reasons(
        string prefix, (SurveyCategory Category, string Name)[] reasons,
        Func<MeasuredInfant, bool> population, Func<MeasuredInfant, SurveyCategory> category) =>
        reasons.Select(r => Line.Of($"{prefix}.{Facts.Codes.Of(r.Category)}", r.Name, i => population(i) && category(i) == r.Category));

    private static IReadOnlyList<string> Codes(string prefix, (SurveyCategory Category, string Name)[] reasons) =>
        [.. reasons.Select(r => $"{prefix}.{Facts.Codes.Of(r.Category)}")];

    /// <summary>Lost = unresponsive + unable to contact + unknown, also split as the survey splits it.</summary>
    private static IEnumerable<Line> Lost(
        string step, Func<MeasuredInfant, bool> population, Func<MeasuredInfant, SurveyCategory> category) =>
    [
        Line.Of($"{step}.lost", "Lost to follow-up or documentation",
            i => population(i) && (category(i) is Unresponsive or UnableToContact or Unknown)),
        Line.Of($"{step}.lost.unresponsive", "Lost to follow-up: unresponsive", i => population(i) && category(i) == Unresponsive),
        Line.Of($"{step}.lost.unable_or_unknown", "Lost to follow-up: unable to contact or unknown",
            i => population(i) && (category(i) is UnableToContact or Unknown)),
    ];

    private static Ratio Of(string code, string name, string numerator, string denominator, Source source) =>
        new(code, name, MeasureGroup.NationalSurvey, numerator, denominator, source) { Page = "national-survey" };
}
