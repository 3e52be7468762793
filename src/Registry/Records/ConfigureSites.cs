using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Records;

internal sealed class ConfigureSite : IEntityTypeConfiguration<Site>
{
    public void Configure(EntityTypeBuilder<Site> builder)
    {
        builder.ToTable("sites");
        builder.HasIndex(s => s.Code).IsUnique();
        builder.HasIndex(s => s.Name).IsUnique();
        builder.Property(s => s.Services).HasDefaultValueSql("'{}'");
        builder.Property(s => s.CountiesServed).HasDefaultValueSql("'{}'");
        builder.HasOne<Site>().WithMany().HasForeignKey(s => s.ContinuedBy).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureSiteKey : IEntityTypeConfiguration<SiteKey>
{
    public void Configure(EntityTypeBuilder<SiteKey> builder)
    {
        builder.ToTable("site_keys", t => t.HasCheckConstraint("site_keys_one_proof", "(sha256 is null) = (public_keys is not null)"));
        builder.Ignore(k => k.Shown);
        builder.Property(k => k.Certificates).HasDefaultValueSql("'{}'");
        builder.HasIndex(k => k.Sha256).IsUnique();
        // Keys from before scopes keep what they opened.
        builder.Property(k => k.Scope).HasDefaultValue(KeyScope.SendAndRead).HasSentinel(KeyScope.SendAndRead);
        builder.Property(k => k.Demonstration).HasDefaultValue(false);
        builder.HasOne<Site>().WithMany().HasForeignKey(k => k.SiteId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<SiteKey>().WithMany().HasForeignKey(k => k.ReplacedBy).OnDelete(DeleteBehavior.Restrict);
    }
}
