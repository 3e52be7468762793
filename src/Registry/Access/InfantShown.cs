using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Platform;
using Registry.Records;

namespace Registry.Access;

/// <summary>An infant that is shown for another reason than a fact of a site: to case workers of its county, to the case worker it is
/// assigned to, to who broke the glass.</summary>
/// <remarks>Kept by triggers on what it follows from, as <see cref="InfantSite"/> is; the program's logins only read it. The county is
/// where the mother lives, as the birth that holds says; where none is said, that of the birth site.</remarks>
public sealed class InfantShown
{
    public required string ShownTo { get; init; }
    public InfantId InfantId { get; init; }

    public static string ToCounty(string county) => "county:" + county.Trim().ToLowerInvariant();

    public static string ToCaseWorker(Guid person) => $"case_worker:{person}";

    public static string ToGlass(Guid glass) => $"glass:{glass}";

    /// <summary>Made anew by <c>migrate</c>.</summary>
    internal static readonly string Triggers = EmbeddedSql.Of<InfantShown>();
}

internal sealed class ConfigureInfantShown : IEntityTypeConfiguration<InfantShown>
{
    public void Configure(EntityTypeBuilder<InfantShown> builder)
    {
        builder.ToTable("infant_shown");
        builder.HasKey(s => new { s.ShownTo, s.InfantId });
        builder.HasIndex(s => s.InfantId);
    }
}

/// <summary>Whose infants a site has: its own, and those of closed sites it continues, of those they continued, and so on.</summary>
/// <remarks>Kept by a trigger on the sites. A site is continued from the day it is closed; who continues it is an administrator's word.
/// </remarks>
public sealed class SiteHeir
{
    public SiteId HeirId { get; init; }
    public SiteId SiteId { get; init; }
}

internal sealed class ConfigureSiteHeir : IEntityTypeConfiguration<SiteHeir>
{
    public void Configure(EntityTypeBuilder<SiteHeir> builder)
    {
        builder.ToTable("site_heirs");
        builder.HasKey(h => new { h.HeirId, h.SiteId });
        builder.HasIndex(h => h.SiteId);
    }
}

/// <summary>Whether a site speaks for another.</summary>
public static class SiteHeirs
{
    /// <summary>Itself, or a closed one that it continues.</summary>
    public static async Task<bool> SpeaksForAsync(this RegistryDb db, SiteId? site, SiteId other, CancellationToken ct) =>
        site is { } own && (own == other || await db.Set<SiteHeir>().AnyAsync(h => h.HeirId == own && h.SiteId == other, ct));
}
