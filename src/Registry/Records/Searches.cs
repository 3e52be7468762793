using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Work;

namespace Registry.Records;

/// <summary>A search for a family that was lost: who looked where, when, and what it brought. Added, and taken back by its end.</summary>
public sealed class SearchRecord
{
    public Guid Id { get; init; }
    public InfantId InfantId { get; init; }
    public DateOnly SearchedOn { get; init; }

    /// <summary>Codes of <see cref="SearchPlace"/>.</summary>
    public required string[] LookedAt { get; init; }
    public SearchResult Result { get; init; }

    /// <summary>What a person wrote beside it; encrypted.</summary>
    public string? Note { get; init; }
    public DateTimeOffset RecordedAt { get; init; }
    public Guid EnteredBy { get; init; }
    public Role EnteredAs { get; init; }

    /// <summary>The site it was made for; null for the program's own people.</summary>
    public SiteId? SiteId { get; init; }

    /// <summary>The key of the form it was sent with: sent twice it is one.</summary>
    public Guid FormKey { get; init; }

    /// <summary>When it was taken back; it stays readable.</summary>
    public DateTimeOffset? SupersededAt { get; set; }
}

internal sealed class ConfigureSearch : IEntityTypeConfiguration<SearchRecord>
{
    public void Configure(EntityTypeBuilder<SearchRecord> builder)
    {
        builder.ToTable("searches");
        builder.HasIndex(s => s.InfantId);
        builder.HasIndex(s => s.FormKey).IsUnique();
        builder.HasOne<Infant>().WithMany().HasForeignKey(s => s.InfantId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Person>().WithMany().HasForeignKey(s => s.EnteredBy).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(s => s.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

/// <summary>Somebody ended the work about a step of an infant, and why; opened again it stays readable.</summary>
public sealed class WorkClosing
{
    public Guid Id { get; init; }
    public InfantId InfantId { get; init; }
    public PathStep Step { get; init; }

    /// <summary>A line of the national survey (<see cref="Rules.Work.Closed.Reasons"/>).</summary>
    public SurveyCategory Reason { get; init; }
    public DateOnly ClosedOn { get; init; }
    public DateTimeOffset ClosedAt { get; init; }
    public Guid ClosedBy { get; init; }
    public Role ClosedAs { get; init; }
    public DateTimeOffset? ReopenedAt { get; set; }
    public Guid? ReopenedBy { get; set; }
}

internal sealed class ConfigureWorkClosing : IEntityTypeConfiguration<WorkClosing>
{
    public void Configure(EntityTypeBuilder<WorkClosing> builder)
    {
        builder.ToTable("closed_work");
        builder.HasIndex(c => c.InfantId);
        builder.HasIndex(c => c.InfantId, "ux_closed_work_standing").IsUnique().HasFilter("reopened_at is null")
            .HasDatabaseName("ux_closed_work_standing");
        builder.HasOne<Infant>().WithMany().HasForeignKey(c => c.InfantId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Person>().WithMany().HasForeignKey(c => c.ClosedBy).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Person>().WithMany().HasForeignKey(c => c.ReopenedBy).OnDelete(DeleteBehavior.Restrict);
    }
}
