using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.SetUp;

/// <summary>What is set up, in the order it is asked for. The first three are answered on pages of their own; the rest is seen from what is
/// there.</summary>
public enum SetUpStep { Program, Policy, Mail, Places, People, Key }

/// <summary>A step that was answered, and by whom.</summary>
public sealed class AnsweredStep
{
    public SetUpStep Step { get; init; }
    public DateTimeOffset AnsweredAt { get; init; }
    public Guid AnsweredBy { get; init; }
}

internal sealed class ConfigureAnsweredStep : IEntityTypeConfiguration<AnsweredStep>
{
    public void Configure(EntityTypeBuilder<AnsweredStep> builder)
    {
        builder.ToTable("set_up_steps");
        builder.HasKey(s => s.Step);
    }
}

internal static class SetUpTables
{
    extension(RegistryDb db)
    {
        public DbSet<AnsweredStep> AnsweredSteps => db.Set<AnsweredStep>();
    }
}
