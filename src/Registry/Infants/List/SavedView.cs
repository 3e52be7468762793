using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.Infants.List;

/// <summary>Which list a saved view is of: the work list, or the list of infants.</summary>
public enum ViewedList { Work, Infants }

/// <summary>A filter of a list that somebody kept under a name.</summary>
public sealed class SavedView
{
    public Guid Id { get; init; }
    public Guid PersonId { get; init; }

    /// <summary>The office it may be shared with: a site; null: the program's own.</summary>
    public SiteId? SiteId { get; init; }
    public bool IsShared { get; set; }
    public ViewedList List { get; init; }
    public required string Name { get; set; }

    /// <summary>The filter's codes, as they stand in the list's address.</summary>
    public required string Filter { get; init; }
    public DateTimeOffset SavedAt { get; init; }
}

/// <summary>The view one of somebody's lists opens with.</summary>
public sealed class DefaultView
{
    public Guid PersonId { get; init; }
    public ViewedList List { get; init; }
    public Guid ViewId { get; set; }
}

internal sealed class ConfigureSavedView : IEntityTypeConfiguration<SavedView>
{
    public void Configure(EntityTypeBuilder<SavedView> builder)
    {
        builder.ToTable("saved_views");
        builder.HasIndex(v => v.PersonId);
        builder.HasIndex(v => v.SiteId).HasFilter("is_shared");
        builder.HasOne<Person>().WithMany().HasForeignKey(v => v.PersonId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(v => v.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureDefaultView : IEntityTypeConfiguration<DefaultView>
{
    public void Configure(EntityTypeBuilder<DefaultView> builder)
    {
        builder.ToTable("default_views");
        builder.HasKey(d => new { d.PersonId, d.List });
        builder.HasOne<Person>().WithMany().HasForeignKey(d => d.PersonId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<SavedView>().WithMany().HasForeignKey(d => d.ViewId).OnDelete(DeleteBehavior.Cascade);
    }
}

/// <summary>The lists' own tables of the one database.</summary>
public static class ViewTables
{
    extension(RegistryDb db)
    {
        public DbSet<SavedView> SavedViews => db.Set<SavedView>();
        public DbSet<DefaultView> DefaultViews => db.Set<DefaultView>();
    }
}
