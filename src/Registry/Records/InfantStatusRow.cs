using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.Records;

/// <summary>
/// The stored <see cref="InfantStatus"/>: derived, rebuilt at any time from the facts, one row per infant, as of the last
/// day its facts or the calendar changed it. Pages and jobs query it; nothing types into it.
/// </summary>
public sealed class InfantStatusRow
{
    public InfantId InfantId { get; init; }
    public required string PolicyVersion { get; init; }
    public DateOnly AsOf { get; init; }
    public DateOnly BornOn { get; init; }
    public SiteId BirthSiteId { get; init; }
    public SiteId ResponsibleSiteId { get; init; }
    public EarResult RightEar { get; init; }
    public EarResult LeftEar { get; init; }
    public ScreeningConclusion Screening { get; init; }
    public MilestoneState ScreenedState { get; init; }
    public DateOnly ScreenedDeadlineOn { get; init; }
    public DateOnly? ScreenedOn { get; init; }
    public required string ScreenedReason { get; init; }
    public MilestoneState DiagnosedState { get; init; }
    public DateOnly DiagnosedDeadlineOn { get; init; }
    public DateOnly? DiagnosedOn { get; init; }
    public required string DiagnosedReason { get; init; }
    public MilestoneState EnrolledState { get; init; }
    public DateOnly EnrolledDeadlineOn { get; init; }
    public DateOnly? EnrolledOn { get; init; }
    public required string EnrolledReason { get; init; }
    public HearingConclusion Hearing { get; init; }

    /// <summary>The final finding that stands for each ear, its degree, and the day a permanent loss was confirmed.</summary>
    public EarFinding RightFinding { get; init; }
    public EarFinding LeftFinding { get; init; }
    public LossDegree RightDegree { get; init; }
    public LossDegree LeftDegree { get; init; }
    public Laterality Laterality { get; init; }
    public DateOnly? IdentifiedOn { get; init; }

    /// <summary>The soonest due step and its date; all of them as JSON.</summary>
    public DueStep? NextStep { get; init; }
    public DateOnly? NextDueOn { get; init; }
    public required string Dues { get; init; }
    public LossState Loss { get; init; }
    public PathStep? LostAt { get; init; }
    public SurveyCategory ScreeningCategory { get; init; }
    public SurveyCategory DiagnosisCategory { get; init; }
    public SurveyCategory InterventionCategory { get; init; }
    public int Flags { get; init; }
    public DateOnly? NextChangeOn { get; init; }
}

internal sealed class ConfigureInfantStatus : IEntityTypeConfiguration<InfantStatusRow>
{
    public void Configure(EntityTypeBuilder<InfantStatusRow> builder)
    {
        builder.ToTable("infant_status");
        builder.HasKey(s => s.InfantId);
        builder.Property(s => s.Dues).HasColumnType("jsonb");
        builder.HasIndex(s => s.BornOn);
        builder.HasIndex(s => s.NextChangeOn);
        builder.HasIndex(s => s.DiagnosedOn).HasFilter("diagnosed_state = 'met'"); // a week's good news
        builder.HasIndex(s => new { s.ResponsibleSiteId, s.NextDueOn });
        builder.HasIndex(s => new { s.BirthSiteId, s.BornOn });
        builder.HasIndex(s => new { s.ResponsibleSiteId, s.BornOn }).HasFilter("responsible_site_id <> birth_site_id"); // by a transfer
    }
}
