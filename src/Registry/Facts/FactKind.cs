using Npgsql;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

/// <summary>Tables that hold the detail of a kind's facts, one or more rows each, by the fact's id.</summary>
/// <param name="View">What the detail is read from, one row for each fact.</param>
/// <param name="Key">The column of the fact's id, in the view and in the tables.</param>
/// <param name="Tables">The tables, in the order they are written, each with its other columns.</param>
public sealed record FactDetail(string View, string Key, IReadOnlyList<(string Table, string Columns)> Tables);

/// <summary>
/// One kind of fact: its table, its columns and how they are read and written. Everything that must know every kind is derived from these:
/// what is written, read, closed, taken back, exported, shown, given to the rules, and who sees the infant.
/// </summary>
/// <param name="kind">The kind of row that states it.</param>
/// <param name="table">Its table.</param>
/// <param name="day">The column of the day it happened.</param>
public abstract class FactKind(RowKind kind, string table, string day)
{
    /// <summary>Columns of every table of facts, before its own in a row that is read.</summary>
    internal const int Infant = 0, Site = 1, FirstOwn = 2;

    public RowKind Kind { get; } = kind;
    public string Table { get; } = table;
    public string Day { get; } = day;

    /// <summary>Its code: the kind in a row, in <c>corrections</c> and in the export.</summary>
    public string Name { get; } = Codes.Of(kind);

    /// <summary>The record that states it.</summary>
    public abstract Type Reported { get; }

    /// <summary>What is read of a fact beside who it is about and who said it when, in order.</summary>
    public abstract IReadOnlyList<FactColumn> Columns { get; }

    /// <summary>Every column that is written beside those all facts have: those read but not of the detail, and what is derived from
    /// them.</summary>
    public abstract IReadOnlyList<string> Written { get; }

    /// <summary>Columns that only a page fills in: who entered it, in which role, with which form.</summary>
    public IReadOnlyList<string> OfPages { get; protected set; } = [];

    /// <summary>How many of the first columns the rules are given.</summary>
    public int ColumnsForRules { get; protected set; }

    /// <summary>The rules are given these facts at all: no status depends on who is called, and nothing is read for it.</summary>
    public abstract bool IsForRules { get; }

    public FactDetail? Detail { get; protected set; }

    /// <summary>The columns that hold a site that sees the infant as long as the fact opens it: who says it first.</summary>
    public IReadOnlyList<SeeingSite> SeenBy =>
        [.. Seeing.Select(s => new SeeingSite(Table, s.Column, s.Asks, OfPages.Contains("entered_as")))];

    protected List<(string Column, Opening Asks)> Seeing { get; } = [("site_id", Opening.None)];

    /// <summary>The words of a fact are those of its submission's site, not of <c>site_id</c>.</summary>
    public bool IsSaidByItsSubmission { get; protected set; }

    /// <summary>The fact in the row the reader is at.</summary>
    internal abstract ReportedFact Read(NpgsqlDataReader row);

    /// <summary>Writes facts of this kind, and their detail.</summary>
    internal abstract Task WriteAsync(NpgsqlConnection connection, IReadOnlyList<RecordedFact> facts, CancellationToken ct);

    /// <summary>Adds the row the reader is at to what was gathered of an infant's facts of this kind; null: it is the first.</summary>
    internal abstract object GatherForRules(object? gathered, NpgsqlDataReader row);

    /// <summary>An infant's facts with those gathered.</summary>
    internal abstract InfantFacts GiveToRules(InfantFacts facts, object gathered);

    /// <summary>A statement for this kind, from one for any: its names in the place of theirs. Not for a statement that runs often: done
    /// once.</summary>
    internal string Fill(string sql) => sql
        .Replace("{table}", Table, StringComparison.Ordinal)
        .Replace("{kind}", Name, StringComparison.Ordinal)
        .Replace("{day}", Day, StringComparison.Ordinal)
        .Replace("{columns}", string.Join(", ", Columns.Select(c => c.Source)), StringComparison.Ordinal)
        .Replace("{columns for rules}", string.Join(", ", Columns.Take(ColumnsForRules).Select(c => c.Source)), StringComparison.Ordinal)
        .Replace("{detail}", Detail is null ? ""
            : $"left join lateral (select * from {Detail.View} where {Detail.Key} = f.id offset 0) d on true", StringComparison.Ordinal)
        .Replace("{said by}", IsSaidByItsSubmission ? "(select site_id from submissions where id = f.submission_id)" : "null::uuid",
            StringComparison.Ordinal);
}
