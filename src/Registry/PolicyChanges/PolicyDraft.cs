using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.PolicyChanges;

/// <summary>A proposed policy version, and what it would change. Kept whatever becomes of it.</summary>
public sealed class PolicyDraft
{
    public Guid Id { get; init; }

    /// <summary>The whole proposed policy (<see cref="Rules.Policy.ToJson"/>).</summary>
    public required string Document { get; init; }

    /// <summary>The version it is compared with, and the day both are applied to.</summary>
    public required string ComparedWith { get; init; }
    public DateOnly AsOf { get; init; }
    public DateTimeOffset DraftedAt { get; init; }
    public Guid DraftedBy { get; init; }

    /// <summary>How far the count is; null until it began.</summary>
    public int? Infants { get; set; }
    public int Counted { get; set; }

    /// <summary>JSON: <see cref="ChangeCounts"/>; null until counted.</summary>
    public string? Changes { get; set; }
    public DateTimeOffset? DecidedAt { get; set; }
    public Guid? DecidedBy { get; set; }
    public DraftDecision? Decision { get; set; }
}

public enum DraftDecision { Scheduled, Discarded, Withdrawn }

/// <summary>How many infants a draft changes.</summary>
/// <param name="Changed">With any change.</param>
/// <param name="Lines">Infants by what changes, from which coded value to which.</param>
public sealed record ChangeCounts(int Infants, int Changed, IReadOnlyList<ChangeLine> Lines);

public sealed record ChangeLine(Rules.StatusAspect Aspect, string From, string To, int Infants);

internal sealed class ConfigurePolicyDraft : IEntityTypeConfiguration<PolicyDraft>
{
    public void Configure(EntityTypeBuilder<PolicyDraft> builder)
    {
        builder.ToTable("policy_drafts");
        builder.Property(d => d.Document).HasColumnType("jsonb");
        builder.Property(d => d.Changes).HasColumnType("jsonb");
    }
}

/// <summary>The slice's own tables of the one database.</summary>
public static class PolicyChangesTables
{
    extension(RegistryDb db)
    {
        public DbSet<PolicyDraft> PolicyDrafts => db.Set<PolicyDraft>();
    }
}
