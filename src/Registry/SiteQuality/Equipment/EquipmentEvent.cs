using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality.Equipment;

/// <summary>What happened to an instrument, a probe or, last, a screener.</summary>
public enum EquipmentEventKind
{
    TipChanged, ProbeChanged, Checked, Repaired, Calibrated,

    /// <summary>To another site or the maker, and back.</summary>
    LentOut, CameBack,

    /// <summary>Used no more.</summary>
    Retired,

    /// <summary>A screener showed how they test to somebody experienced.</summary>
    CompetencyChecked,

    /// <summary>From another site or the maker, and back to it: it has a history there.</summary>
    Borrowed, GivenBack,
}

/// <summary>An event of a site's equipment as somebody typed it. Added, never changed; a mistake is taken back.</summary>
public sealed class EquipmentEvent
{
    public Guid Id { get; init; }
    public SiteId SiteId { get; init; }

    /// <summary>An instrument, a probe or a screener, as tests name it.</summary>
    public QualityUnitKind Unit { get; init; }
    public required string Name { get; init; }
    public EquipmentEventKind Kind { get; init; }
    public DateOnly Day { get; init; }

    /// <summary>In their own words, encrypted: somebody may write who somebody is.</summary>
    public string? Words { get; init; }
    public DateTimeOffset RecordedAt { get; init; }
    public Guid RecordedBy { get; init; }
    public DateTimeOffset? TakenBackAt { get; set; }
    public Guid? TakenBackBy { get; set; }

    /// <summary>What may happen to a kind of unit.</summary>
    public static IReadOnlyList<EquipmentEventKind> Of(QualityUnitKind unit) => unit switch
    {
        QualityUnitKind.Instrument =>
        [
            EquipmentEventKind.ProbeChanged, EquipmentEventKind.Checked, EquipmentEventKind.Repaired, EquipmentEventKind.Calibrated,
            EquipmentEventKind.LentOut, EquipmentEventKind.CameBack, EquipmentEventKind.Borrowed, EquipmentEventKind.GivenBack,
            EquipmentEventKind.Retired,
        ],
        QualityUnitKind.Probe =>
        [
            EquipmentEventKind.TipChanged, EquipmentEventKind.Checked, EquipmentEventKind.Repaired, EquipmentEventKind.Calibrated,
            EquipmentEventKind.LentOut, EquipmentEventKind.CameBack, EquipmentEventKind.Borrowed, EquipmentEventKind.GivenBack,
            EquipmentEventKind.Retired,
        ],
        QualityUnitKind.Screener => [EquipmentEventKind.CompetencyChecked],
        _ => [],
    };
}

internal sealed class ConfigureEquipmentEvent : IEntityTypeConfiguration<EquipmentEvent>
{
    public void Configure(EntityTypeBuilder<EquipmentEvent> builder)
    {
        builder.ToTable("equipment_events");
        builder.HasIndex(e => new { e.SiteId, e.Day });
        builder.HasOne<Site>().WithMany().HasForeignKey(e => e.SiteId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Person>().WithMany().HasForeignKey(e => e.RecordedBy).OnDelete(DeleteBehavior.Restrict);
    }
}

/// <summary>The room's own table of the one database.</summary>
public static class EquipmentTables
{
    extension(RegistryDb db)
    {
        public DbSet<EquipmentEvent> EquipmentEvents => db.Set<EquipmentEvent>();
    }
}
