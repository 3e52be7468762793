using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Npgsql;
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

/// <summary>Whether a site speaks for another, and who continues it.</summary>
public static class SiteHeirs
{
    private const string WithHeirsSql =
        "select s.* from sites s where s.id = any (array(select h.heir_id from site_heirs h where h.site_id = any (@sites)))";

    /// <summary>Some sites, with those that continue them: what a page names and who is called, and no other.</summary>
    public static Task<Dictionary<SiteId, Site>> WithHeirsAsync(this RegistryDb db, IEnumerable<SiteId> sites, CancellationToken ct) =>
        db.Sites.FromSqlRaw(WithHeirsSql, new NpgsqlParameter<Guid[]>("sites", [.. sites.Select(s => s.Value).Distinct()]))
            .AsNoTracking().ToDictionaryAsync(s => s.Id, ct);

    /// <summary>Itself, or a closed one that it continues.</summary>
    public static async Task<bool> SpeaksForAsync(this RegistryDb db, SiteId? site, SiteId other, CancellationToken ct) =>
        site is { } own && (own == other || await db.Set<SiteHeir>().AnyAsync(h => h.HeirId == own && h.SiteId == other, ct));
}
