using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Records;

/// <summary>A kind of fact: its table, the index every reader of an infant's facts uses, and no cascade: facts outlive
/// everything.</summary>
internal abstract class ConfigureFact<T>(string table) : IEntityTypeConfiguration<T> where T : Fact
{
    protected const string Current = "superseded_at is null";

    public virtual void Configure(EntityTypeBuilder<T> builder)
    {
        builder.ToTable(table);
        builder.HasIndex(f => f.InfantId);
        builder.HasOne<Infant>().WithMany().HasForeignKey(f => f.InfantId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(f => f.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureInfantIdentifier() : ConfigureFact<InfantIdentifier>("infant_identifiers")
{
    public override void Configure(EntityTypeBuilder<InfantIdentifier> builder)
    {
        base.Configure(builder);
        // Two sites may state one card for two infants: whoever guesses a card is not told that somebody has it.
        builder.HasIndex(i => i.Value, "ix_card_id").HasFilter($"{Current} and kind = 'card_id'");
        builder.HasIndex(i => new { i.SiteId, i.Value }, "ux_card_id").IsUnique().HasFilter($"{Current} and kind = 'card_id'")
            .HasDatabaseName("ux_infant_identifiers_card_of_site");
        builder.HasIndex(i => new { i.SiteId, i.Value }, "ux_record_number").IsUnique().HasFilter($"{Current} and kind = 'record_number'");
        builder.HasIndex(i => i.Value, "ix_record_number").HasFilter($"{Current} and kind = 'record_number'")
            .HasDatabaseName("ix_infant_identifiers_record_number"); // of whatever site
    }
}

internal sealed class ConfigureBirth() : ConfigureFact<BirthRecord>("births")
{
    public override void Configure(EntityTypeBuilder<BirthRecord> builder)
    {
        base.Configure(builder);
        builder.HasIndex(b => new { b.BornOn, b.MotherFamilyKey }).HasFilter(Current);
        builder.HasIndex(b => new { b.BornOn, b.MotherBornOn }).HasFilter(Current);
        // Other children of a mother, whatever her family name is now (Searching/LookElsewhere.sql).
        builder.HasIndex(b => new { b.MotherBornOn, b.MotherGivenKey }).HasFilter($"{Current} and mother_born_on is not null");
        builder.HasIndex(b => b.ContactEmailKey).HasFilter($"{Current} and contact_email_key is not null");
        builder.HasIndex(b => b.ContactPhoneKey).HasFilter($"{Current} and contact_phone_key is not null");
        builder.HasIndex(b => b.InfantId, "ux_births_current").IsUnique().HasFilter(Current);
    }
}

internal sealed class ConfigureScreening() : ConfigureFact<ScreeningRecord>("screenings")
{
    public override void Configure(EntityTypeBuilder<ScreeningRecord> builder)
    {
        base.Configure(builder);
        builder.HasIndex(s => new { s.SiteId, s.PerformedAt });
    }
}

internal sealed class ConfigureScreeningDetail : IEntityTypeConfiguration<ScreeningDetail>
{
    public void Configure(EntityTypeBuilder<ScreeningDetail> builder)
    {
        builder.ToTable("screening_details");
        builder.HasKey(d => d.ScreeningId);
        builder.Property(d => d.ScreeningId).ValueGeneratedNever();
        builder.HasOne<ScreeningRecord>().WithOne().HasForeignKey<ScreeningDetail>(d => d.ScreeningId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureScreeningBand : IEntityTypeConfiguration<ScreeningBand>
{
    public void Configure(EntityTypeBuilder<ScreeningBand> builder)
    {
        builder.ToTable("screening_bands");
        builder.HasKey(b => new { b.ScreeningId, b.FrequencyHz });
        builder.HasOne<ScreeningDetail>().WithMany().HasForeignKey(b => b.ScreeningId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureCorrection : IEntityTypeConfiguration<CorrectionRecord>
{
    public void Configure(EntityTypeBuilder<CorrectionRecord> builder)
    {
        builder.ToTable("corrections");
        builder.HasIndex(c => c.InfantId);
        builder.HasIndex(c => c.FactId).IsUnique().HasFilter("superseded_at is null");
        builder.HasOne<Infant>().WithMany().HasForeignKey(c => c.InfantId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(c => c.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureInfant : IEntityTypeConfiguration<Infant>
{
    public void Configure(EntityTypeBuilder<Infant> builder) => builder.ToTable("infants");
}
