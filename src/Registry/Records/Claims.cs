using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Records;

/// <summary>Which infants of a site an agreement hands on.</summary>
public enum AgreementCovers
{
    /// <summary>Those for whom a rescreen, an evaluation or a step of intervention is due.</summary>
    Referred,

    /// <summary>Every infant born there.</summary>
    All,
}

/// <summary>"Infants of this site are seen there": stated by the office, so that a clinic's report counts without being confirmed one by
/// one. Ended by a date, never deleted.</summary>
public sealed class CareAgreement
{
    public Guid Id { get; init; }

    /// <summary>Where the infants were born.</summary>
    public SiteId FromSiteId { get; init; }

    /// <summary>Who sees them.</summary>
    public SiteId ToSiteId { get; init; }
    public AgreementCovers Covers { get; init; }
    public DateOnly FromOn { get; init; }

    /// <summary>The first day on which it holds no more.</summary>
    public DateOnly? UntilOn { get; set; }
    public DateTimeOffset StatedAt { get; init; }

    /// <summary>Null: stated by the program itself, for the demonstration.</summary>
    public Guid? StatedBy { get; init; }
    public DateTimeOffset? EndedAt { get; set; }
    public Guid? EndedBy { get; set; }
}

/// <summary>What was said of a claim. <c>TakenBack</c>: an earlier word is taken back, and it waits again.</summary>
public enum ClaimVerdict { Confirmed, Refused, TakenBack }

/// <summary>
/// A word about a claim: may this site report on this infant? The claim itself is what waits (held rows with the reason
/// <c>awaits_confirmation</c>); the last word holds. Append-only: a trigger refuses anything else.
/// </summary>
public sealed class ClaimDecision
{
    public long Id { get; init; }
    public InfantId InfantId { get; init; }
    public SiteId SiteId { get; init; }
    public ClaimVerdict Decision { get; init; }
    public DateTimeOffset At { get; init; }
    public Guid PersonId { get; init; }

    /// <summary>Why it was refused, in a person's words, encrypted.</summary>
    public string? Reason { get; init; }
}

/// <summary>How many rows of a sender a day named an identifier that led nowhere.</summary>
public sealed class UnmatchedCount
{
    public SiteId SiteId { get; init; }
    public DateOnly Day { get; init; }
    public int Rows { get; set; }

    /// <summary>When the last came.</summary>
    public DateTimeOffset LastAt { get; set; }
}

internal sealed class ConfigureCareAgreement : IEntityTypeConfiguration<CareAgreement>
{
    public void Configure(EntityTypeBuilder<CareAgreement> builder)
    {
        builder.ToTable("care_agreements");
        builder.HasIndex(a => new { a.FromSiteId, a.ToSiteId });
        builder.HasOne<Site>().WithMany().HasForeignKey(a => a.FromSiteId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(a => a.ToSiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureClaimDecision : IEntityTypeConfiguration<ClaimDecision>
{
    public void Configure(EntityTypeBuilder<ClaimDecision> builder)
    {
        builder.ToTable("claim_decisions");
        builder.HasIndex(d => new { d.InfantId, d.SiteId, d.Id });
        builder.HasOne<Infant>().WithMany().HasForeignKey(d => d.InfantId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(d => d.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureUnmatchedCount : IEntityTypeConfiguration<UnmatchedCount>
{
    public void Configure(EntityTypeBuilder<UnmatchedCount> builder)
    {
        builder.ToTable("unmatched_counts");
        builder.HasKey(u => new { u.SiteId, u.Day });
        builder.HasOne<Site>().WithMany().HasForeignKey(u => u.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}
