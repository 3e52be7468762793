using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Records;

/// <summary>This registry and no other: one row, made by the migration. What is protected for one installation (a form's token) is
/// worth nothing to another, though both keep their keys in the same place.</summary>
public sealed class Installation
{
    /// <summary>Random.</summary>
    public Guid Id { get; init; }
    public DateTimeOffset CreatedAt { get; init; }

    /// <summary>Written when the invented region is loaded into an empty database, never taken away: without it the demonstration does not
    /// start on a database.</summary>
    public bool Demonstration { get; set; }
}

internal sealed class ConfigureInstallation : IEntityTypeConfiguration<Installation>
{
    public void Configure(EntityTypeBuilder<Installation> builder)
    {
        builder.ToTable("installation");
        builder.Property(i => i.Demonstration).HasDefaultValue(false);
    }
}
