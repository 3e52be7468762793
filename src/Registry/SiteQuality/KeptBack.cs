using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>Tests of a site, of the year that ends on a night, that its own sendings passed by before they came. Only the last night's is
/// kept: it says whose mark stands (<see cref="ReadKeptBack"/>).</summary>
public sealed class KeptBack
{
    public SiteId SiteId { get; init; }
    public DateOnly AsOf { get; init; }
    public int Tests { get; init; }

    /// <summary>Of them those that were passed by.</summary>
    public int PassedBy { get; init; }

    /// <summary>Of these those that came with others of many days.</summary>
    public int InBursts { get; init; }

    public Proportion PassedByShare => new(PassedBy, Tests);
    public Proportion BurstShare => new(InBursts, Tests);
}

internal sealed class ConfigureKeptBack : IEntityTypeConfiguration<KeptBack>
{
    public void Configure(EntityTypeBuilder<KeptBack> builder)
    {
        builder.ToTable("kept_back");
        builder.HasKey(k => k.SiteId);
        builder.HasOne<Site>().WithMany().HasForeignKey(k => k.SiteId).OnDelete(DeleteBehavior.Restrict);
        builder.Ignore(k => k.PassedByShare);
        builder.Ignore(k => k.BurstShare);
    }
}

public static class KeptBackSet
{
    extension(RegistryDb db)
    {
        public DbSet<KeptBack> KeptBack => db.Set<KeptBack>();
    }
}
