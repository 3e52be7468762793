using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Facts;
using Registry.Platform;
using Registry.Records;

namespace Registry.Access;

/// <summary>A site that sees an infant: it currently holds a fact of it, a fact names it (<see cref="FactKinds.SeenBy"/>), or it was
/// handed the infant.</summary>
/// <remarks>Derived from the facts and hand-offs by triggers on their tables, in the transaction that writes them; the program's logins
/// only read it. So who sees whom is one probe of an index, for the rule (<see cref="Visibility"/>) and for the row security beneath
/// it.</remarks>
public sealed class InfantSite
{
    public SiteId SiteId { get; init; }
    public InfantId InfantId { get; init; }
}

internal sealed class ConfigureInfantSite : IEntityTypeConfiguration<InfantSite>
{
    public void Configure(EntityTypeBuilder<InfantSite> builder)
    {
        builder.ToTable("infant_sites");
        builder.HasKey(s => new { s.SiteId, s.InfantId });
    }
}

/// <summary>The triggers, made anew by <c>migrate</c> from the table of fact kinds: a new kind has them without a word.</summary>
public static class InfantSites
{
    /// <summary>Each column that holds a site which sees the infant as long as the row stands: those of facts, and hand-offs.</summary>
    public static IReadOnlyList<(string Table, string Site)> SeenBy { get; } = [.. FactKinds.SeenBy, ("hand_offs", "shown_to_site_id")];

    private static readonly string FunctionSql = EmbeddedSql.Read(typeof(InfantSites), nameof(InfantSites));

    public static string Triggers() => string.Join('\n',
    [
        .. SeenBy.Select(s => s.Site).Distinct().Select(Function),
        .. SeenBy.SelectMany(s => new[] { "insert", "update" }, (s, act) => Trigger(s.Table, s.Site, act)),
    ]);

    private static string Function(string column) => FunctionSql
        .Replace("{column}", column, StringComparison.Ordinal)
        .Replace("{still sees}", string.Join("\n        or ", SeenBy.Select(s =>
            $"exists (select from {s.Table} f where f.infant_id = c.infant_id and f.{s.Site} = c.site_id and f.superseded_at is null)")),
            StringComparison.Ordinal);

    private static string Trigger(string table, string column, string act) =>
        $"create or replace trigger {table}_{column}_{act} after {act} on {table} referencing new table as changed "
            + $"for each statement execute function keep_infant_sites_by_{column}();";
}
