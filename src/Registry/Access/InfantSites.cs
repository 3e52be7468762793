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
    /// <summary>Each column that holds a site which sees the infant as long as the row opens it: those of facts, and hand-offs.</summary>
    public static IReadOnlyList<SeeingColumn> SeenBy { get; } =
        [.. FactKinds.SeenBy.Select(SeeingColumn.Of), SeeingColumn.OfHandOffs];

    private static readonly string FunctionSql = EmbeddedSql.Read(typeof(InfantSites), nameof(InfantSites));

    public static string Triggers() => string.Join('\n',
    [
        .. SeenBy.DistinctBy(s => s.Function).Select(Function),
        .. SeenBy.SelectMany(s => new[] { "insert", "update" }, Trigger),
        EmbeddedSql.Read(typeof(InfantSites), "InfantSitesByKind")
            .Replace("{still sees}", StillSees(SeenBy, "s"), StringComparison.Ordinal)
            .Replace("{opens by kind}", string.Join("\n    union ", SeenBy.Where(s => s.AsksKind).Select(s =>
                $"select f.infant_id from {s.Table} f where f.{s.Site} = new.id and {s.Opens}")), StringComparison.Ordinal),
    ]);

    private static string Function(SeeingColumn column) => FunctionSql
        .Replace("{name}", column.Function, StringComparison.Ordinal)
        .Replace("{lock}", column.AsksKind
            ? $"perform from sites where id in (select {column.Site} from changed) order by id for share;" : "", StringComparison.Ordinal)
        .Replace("{may close}", column.LooksBack ? "true" : "tg_op = 'UPDATE'", StringComparison.Ordinal)
        .Replace("{closed}", column.LooksBack ? "true" : "f.superseded_at is not null", StringComparison.Ordinal)
        .Replace("{rows}", column.LooksBack ? AllOfTheInfants(column.Table) : "changed", StringComparison.Ordinal)
        .Replace("{column}", column.Site, StringComparison.Ordinal)
        .Replace("{opens}", column.Opens, StringComparison.Ordinal)
        .Replace("{still sees}", StillSees(SeenBy.OrderByDescending(s => s == column), "c"), StringComparison.Ordinal);

    /// <summary>By a probe for each infant (<c>offset 0</c>), however many rows there were when it was planned.</summary>
    private static string AllOfTheInfants(string table) => $"(select a.* from (select distinct infant_id from changed) i "
        + $"cross join lateral (select * from {table} where infant_id = i.infant_id offset 0) a)";

    /// <summary>Whether the pair of site and infant of <paramref name="pair"/> is opened by some row.</summary>
    private static string StillSees(IEnumerable<SeeingColumn> columns, string pair) => string.Join("\n        or ", columns.Select(s =>
        $"exists (select from {s.Table} f where f.infant_id = {pair}.infant_id and f.{s.Site} = {pair}.site_id and {s.Opens})"));

    private static string Trigger(SeeingColumn column, string act) =>
        $"create or replace trigger {column.Table}_{column.Site}_{act} after {act} on {column.Table} referencing new table as changed "
            + $"for each statement execute function keep_infant_sites_by_{column.Function}();";
}
