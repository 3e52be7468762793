using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.FollowUp;

/// <summary>An infant became lost at a step, and (if ever) was found again: what a coordinator sees as new this week.</summary>
public sealed class LossFinding
{
    public Guid Id { get; init; }
    public InfantId InfantId { get; init; }
    public PathStep Step { get; init; }
    public LossState Loss { get; init; }

    /// <summary>The first day of it by the rules, as known when it was found.</summary>
    public DateOnly LostOn { get; init; }

    /// <summary>The night it was found.</summary>
    public DateOnly FoundOn { get; init; }

    /// <summary>The day the infant was no longer lost at this step, and what the survey called the step then.</summary>
    public DateOnly? RecoveredOn { get; set; }
    public SurveyCategory? RecoveredAs { get; set; }
}

internal sealed class ConfigureLossFinding : IEntityTypeConfiguration<LossFinding>
{
    public void Configure(EntityTypeBuilder<LossFinding> builder)
    {
        builder.ToTable("loss_findings");
        builder.HasIndex(f => f.InfantId).IsUnique().HasFilter("recovered_on is null");
        builder.HasIndex(f => f.LostOn);
        builder.HasIndex(f => f.FoundOn);
        builder.HasIndex(f => f.RecoveredOn);
        builder.HasOne<Infant>().WithMany().HasForeignKey(f => f.InfantId).OnDelete(DeleteBehavior.Restrict);
    }
}
