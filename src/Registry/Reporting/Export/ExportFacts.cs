using System.Globalization;
using System.Text;
using Microsoft.AspNetCore.Mvc;
using Npgsql;
using Registry.Access;
using Registry.Facts;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Csv;
using Registry.Records;
using Registry.Reporting.Measures;

namespace Registry.Reporting.Export;

public enum ExportFormat { Ndjson, Csv }

/// <summary>
/// Everything a figure is computed from, as of any date, so that anyone can recompute it without this program: the facts as
/// known at the end of the day, or the statuses derived from them. Streamed row by row from the database to the response.
/// Names, contact data and record numbers are left out: no figure needs them. Coordinators only, and recorded.
/// </summary>
public sealed class ExportFacts(
    ViewerDatabase data, Viewer viewer, StatusSource statuses, LimitSnapshots limit, ProgramClock clock)
{
    private static readonly string[] Common = ["infant_id", "site_id", "recorded_at", "superseded_at"];

    /// <summary>Every column that any kind has, beside the common ones, in the order the kinds name them.</summary>
    private static readonly IReadOnlyList<string> Columns = [.. FactKinds.All.SelectMany(ColumnsOf).Distinct()];

    /// <summary>What is exported of a kind: its columns, and those of its detail, but no names and no ways to reach a family.</summary>
    public static IEnumerable<string> ColumnsOf(FactKind kind) => kind.Columns.Where(c => c.IsExported).Select(c => c.Name);

    /// <summary>Facts held true at the end of <paramref name="asOf"/>, ordered by kind of fact. CSV has one column per name that
    /// any kind has; a kind leaves the others empty. NDJSON leaves out what is empty.</summary>
    public async Task WriteFactsAsync(Stream to, DateOnly asOf, ExportFormat format, CancellationToken ct)
    {
        await statuses.RefuseOutsideAsync(asOf, ct);
        if (asOf < clock.Today) limit.Count();
        var known = asOf < clock.Today ? clock.EndOf(asOf) : clock.Now;
        var at = $"timestamptz '{known.UtcDateTime.ToString("yyyy-MM-dd HH:mm:ss.ffffff", CultureInfo.InvariantCulture)}+00'";
        if (format == ExportFormat.Csv)
        {
            await CsvAsync(to, string.Join("\nunion all\n", FactKinds.All.Select(k => LineSql(k, at))), ct);
            return;
        }

        // One statement per table, read one row at a time.
        foreach (var kind in FactKinds.All) await LinesAsync(to, ObjectSql(kind, at), ct);
    }

    /// <summary>Each fact as an object of its stated columns.</summary>
    private static string ObjectSql(FactKind kind, string at) =>
        $"select jsonb_strip_nulls(jsonb_build_object('fact', '{kind.Name}') || to_jsonb(f))::text "
            + $"from (select {string.Join(", ", Common.Concat(ColumnsOf(kind)).SelectMany(WithSite))} from {HeldAt(kind, at)}) f";

    /// <summary>Beside the id of a site its code, which every file and page names it by.</summary>
    private static IEnumerable<string> WithSite(string column) => column.EndsWith("site_id", StringComparison.Ordinal)
        ? [column, $"(select o.code from sites o where o.id = {column}) as {column[..^3]}"] : [column];

    /// <summary>Each fact as a line of every column.</summary>
    private static string LineSql(FactKind kind, string at)
    {
        var own = ColumnsOf(kind).ToHashSet();
        var columns = Columns.SelectMany(c => own.Contains(c)
            ? WithSite(c).Select(s => s == c ? $"{c}::text as {c}" : s)
            : WithSite(c).Select(s => $"null::text as {(s == c ? c : c[..^3])}"));
        return $"select '{kind.Name}' as fact, {string.Join(", ", Common.SelectMany(WithSite))}, {string.Join(", ", columns)} "
            + $"from {HeldAt(kind, at)}";
    }

    /// <summary>What was held true at a moment; a test with what its instrument measured, its bands in the words of the intake.</summary>
    private static string HeldAt(FactKind kind, string at) =>
        kind.Table + (kind.Detail is { } d ? $" left join {d.View} on {d.Key} = id" : "")
            + $" where recorded_at <= {at} and (superseded_at is null or superseded_at > {at})";

    /// <summary>Statuses as of the end of a day, one row per infant, every column of the stored status.</summary>
    public async Task WriteStatusesAsync(Stream to, DateOnly asOf, ExportFormat format, CancellationToken ct)
    {
        var relation = (await statuses.AsOfAsync(asOf, ct)).Relation;
        var sql = $"select s.*, {WithSite("birth_site_id").Last()}, {WithSite("responsible_site_id").Last()} from {relation} s";
        if (format == ExportFormat.Ndjson)
            await LinesAsync(to, $"select (jsonb_strip_nulls(to_jsonb(s) - 'snapshot_id'))::text from ({sql}) s", ct);
        else
            await CsvAsync(to, sql, ct);
    }

    /// <summary>Everybody an export may hold something of.</summary>
    private async Task<IReadOnlyList<InfantId>> InfantsAsync(CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = new NpgsqlCommand("select id from infants", connection);
        await using var reader = await command.ExecuteReaderAsync(ct);
        var ids = new List<InfantId>();
        while (await reader.ReadAsync(ct)) ids.Add(new(reader.GetGuid(0)));
        return ids;
    }

    private async Task LinesAsync(Stream to, string sql, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = new NpgsqlCommand(sql, connection) { CommandTimeout = 0 };
        await using var reader = await command.ExecuteReaderAsync(System.Data.CommandBehavior.SequentialAccess, ct);
        await using var writer = new StreamWriter(to, new UTF8Encoding(false), bufferSize: 1 << 16, leaveOpen: true) { NewLine = "\n" };
        while (await reader.ReadAsync(ct)) await writer.WriteLineAsync(reader.GetString(0).AsMemory(), ct);
    }

    private async Task CsvAsync(Stream to, string sql, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        // Every value as PostgreSQL spells it.
        await using var command = new NpgsqlCommand(sql, connection) { CommandTimeout = 0, AllResultTypesAreUnknown = true };
        await using var reader = await command.ExecuteReaderAsync(ct);
        await using var writer = new StreamWriter(to, new UTF8Encoding(false), bufferSize: 1 << 16, leaveOpen: true) { NewLine = "\n" };
        await using var csv = new WriteCsv(writer);
        var row = new object?[reader.FieldCount];
        for (var i = 0; i < row.Length; i++) row[i] = reader.GetName(i);
        await csv.RowAsync(row, ct);
        while (await reader.ReadAsync(ct))
        {
            for (var i = 0; i < row.Length; i++) row[i] = reader.IsDBNull(i) ? null : Cell(reader.GetString(i));
            await csv.RowAsync(row, ct);
        }
    }

    /// <summary>A number is none of the texts a spreadsheet would run, whatever its sign.</summary>
    private static object Cell(string text) =>
        decimal.TryParse(text, NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out _)
            ? new PlainCell(text) : text;

    /// <summary><c>GET /api/v1/export/{facts|statuses}?asOf=&amp;format=ndjson|csv</c></summary>
    internal static async Task<IResult> GetAsync(
        string what, [FromQuery] string? asOf, [FromQuery] string? format, ExportFacts export, ProgramClock clock, AuditReads audit,
        CancellationToken ct)
    {
        var problems = new Dictionary<string, string[]>();
        if (what is not ("facts" or "statuses")) return Results.NotFound();
        var day = clock.Today;
        if (asOf is { Length: > 0 }
            && !AskedDay.TryRead(asOf, out day))
            problems["asOf"] = ["A date reads year-month-day, like 2026-03-31."];
        else if (day > clock.Today)
            problems["asOf"] = ["The as-of date lies in the future."];
        var kind = ExportFormat.Ndjson;
        if (format is { Length: > 0 } && !Rules.Facts.Codes.TryParse(format, out kind))
            problems["format"] = ["Either ndjson or csv."];
        if (problems.Count > 0) return Results.ValidationProblem(problems);

        await audit.ListAsync(await export.InfantsAsync(ct), ct);
        var extension = Rules.Facts.Codes.Of(kind);
        return Results.Stream(
            body => what == "facts" ? export.WriteFactsAsync(body, day, kind, ct) : export.WriteStatusesAsync(body, day, kind, ct),
            kind == ExportFormat.Csv ? "text/csv; charset=utf-8" : "application/x-ndjson; charset=utf-8",
            $"{what}-{MeasureRequest.Iso(day)}.{extension}");
    }
}
