using Registry.Facts;
using Registry.Fhir;
using Registry.Infants.Record;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Facts;

/// <summary>Facts of every kind on their way through the database: what is written is read, by whoever reads it, and the tables are as the
/// table of kinds says.</summary>
public sealed class StoredFactsTests(TestDatabase database)
{
    private static readonly string[] Common =
        ["id", "infant_id", "recorded_at", "row_number", "site_id", "submission_id", "superseded_at"];

    [Fact]
    public async Task What_a_row_states_is_stored_and_read_again_by_every_reader()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendAsync(FilledRows.Csv());
        Assert.All(await bed.OutcomesAsync(id), o => Assert.Equal("accepted", o));
        var infant = new InfantId(Guid.Parse((await bed.ListAsync("select id from infants"))[0]));
        var stated = FactKinds.All.Select(k => FilledRows.Fact(k.Kind, bed.Hill.Value)).ToList();
        await using var connection = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);

        var recorded = (await RecordedFacts.LoadAsync(
            connection, [infant.Value], Enum.GetValues<RowKind>().ToHashSet(), IntakeBed.Ct)).Of(infant.Value);
        Assert.Equal(stated, recorded.Select(f => f.Fact));
        Assert.Equal(Enumerable.Range(1, stated.Count), recorded.Select(f => f.RowNumber));
        Assert.All(recorded, f => Assert.Equal((id, bed.Harbour.Value, bed.Harbour.Value), (f.SubmissionId, f.SiteId, f.SaidBy)));

        var history = await FactHistory.ReadAsync(connection, infant, bed.Now, IntakeBed.Ct);
        Assert.Equal(stated, history.Select(f => f.Fact));
        Assert.All(history, f => Assert.Equal((id, bed.Now, null), (f.SubmissionId, f.RecordedAt, f.SupersededAt)));

        // The rules: of every kind something, and nothing they ask about a fact is blank.
        var known = Assert.Single(await FactsForRules.KnownAtAsync(connection, [infant.Value], bed.Now, IntakeBed.Ct));
        Assert.Equal((infant, bed.Harbour), (known.Id, known.BirthSiteId));
        Assert.All(known.Facts.ByKind(), k => Assert.True(k.Facts.Length == 1, k.Kind));
        Assert.Empty(known.Facts.ByKind().SelectMany(k => FilledRows.Blank(k.Facts.GetValue(0)!)));

        // The record page and the FHIR record show every kind.
        await using var db = bed.App.OpenDb();
        var (line, _) = await TimeLine.ReadAsync(db, infant, bed.Now, [], IntakeBed.Ct);
        Assert.Equal(stated.Select(f => f.GetType().Name).Order(), line.Where(e => e.Fact is not null).Select(e => e.Fact!.GetType().Name)
            .Order());
        Assert.DoesNotContain(line, e => e.What.Length == 0);
        var resources = new WriteRecord(infant, TimeZoneInfo.Utc, new Dictionary<Guid, (string, string)>
        {
            [bed.Harbour.Value] = ("harbour", "Harbour Hospital"),
            [bed.Hill.Value] = ("hill", "Hill Audiology"),
        }).Run(recorded, []);
        Assert.DoesNotContain(recorded.Where(f => f.Fact is not (ReportedBirth or ReportedDeath)),
            f => !resources.Exists(r => r.Id!.StartsWith(f.Id.ToString(), StringComparison.Ordinal)));
    }

    [Fact]
    public async Task Every_column_of_every_table_is_written_and_read()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        foreach (var kind in FactKinds.All)
        {
            var written = kind.Written.ToList();
            Assert.Equal(Common.Concat(written).Concat(kind.OfPages).Order(StringComparer.Ordinal), await ColumnsAsync(bed, kind.Table));
            // Keys are derived from the names when a fact is written, and looked up by; nobody reads them.
            Assert.Equal(written.Where(c => !c.EndsWith("_key", StringComparison.Ordinal)),
                kind.Columns.Where(c => !c.IsOfDetail).Select(c => c.Name));
            if (kind.Detail is not { } detail) continue;
            Assert.Equal(kind.Columns.Where(c => c.IsOfDetail).Select(c => c.Name).Order(StringComparer.Ordinal),
                await ColumnsAsync(bed, detail.View));
            foreach (var (table, columns) in detail.Tables)
                Assert.Equal(columns.Split(", ").Append(detail.Key).Order(StringComparer.Ordinal), await ColumnsAsync(bed, table));
        }
    }

    [Fact]
    public async Task Every_table_refuses_to_be_edited_or_emptied()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var guards = await bed.ListAsync("select tgrelid::regclass || ' ' || tgname from pg_trigger where not tgisinternal");
        var tables = FactKinds.Tables.Append("corrections").ToList();
        Assert.DoesNotContain(tables.SelectMany(t => (string[])[$"{t} {t}_no_edit", $"{t} {t}_no_delete"]), g => !guards.Contains(g));
        // What goes with a fact is never changed at all.
        Assert.DoesNotContain(FactKinds.All.SelectMany(k => k.Detail?.Tables ?? []),
            t => !guards.Exists(g => g.StartsWith(t.Table + " ", StringComparison.Ordinal)));
    }

    [Fact]
    public async Task Every_site_a_fact_names_sees_the_infant()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var named = await bed.ListAsync(
            """
            select table_name || ' ' || column_name from information_schema.columns
             where table_schema = 'public' and table_name = any($1) and (column_name like '%site_id' or column_name like '%site')
            """, (object)FactKinds.Tables.ToArray());
        var seenBy = FactKinds.SeenBy.Select(s => $"{s.Table} {s.Column}");
        Assert.Equal(named.Order(StringComparer.Ordinal), seenBy.Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task Every_table_of_the_model_that_holds_facts_is_a_kind()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await using var db = bed.App.OpenDb();
        var tables = db.Model.GetEntityTypes().Where(t => typeof(Fact).IsAssignableFrom(t.ClrType))
            .Select(t => (string)t.FindAnnotation("Relational:TableName")!.Value!);
        Assert.Equal(tables.Order(StringComparer.Ordinal), FactKinds.Tables.Order(StringComparer.Ordinal));
    }

    private static async Task<List<string>> ColumnsAsync(IntakeBed bed, string table) =>
        [.. (await bed.ListAsync(
            "select column_name from information_schema.columns where table_schema = 'public' and table_name = $1", table))
            .Order(StringComparer.Ordinal)];
}
