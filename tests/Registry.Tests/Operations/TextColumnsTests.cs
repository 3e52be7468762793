using System.Text.RegularExpressions;
using Microsoft.EntityFrameworkCore;
using Registry.Operations.Encryption;
using Registry.Tests.Architecture;
using Registry.Tests.Intake;

namespace Registry.Tests.Operations;

/// <summary>Of every column that holds text somebody decided whether it is encrypted: docs/security/text-columns.md says it of all, and of
/// no column that is not there.</summary>
public sealed partial class TextColumnsTests(TestDatabase database)
{
    [Fact]
    public async Task Every_text_column_is_decided_about()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await using var db = bed.App.OpenDb();
        var coded = db.Model.GetEntityTypes().SelectMany(t => t.GetProperties()
            .Where(p => (Nullable.GetUnderlyingType(p.ClrType) ?? p.ClrType).IsEnum)
            .Select(p => $"{t.GetTableName()}.{p.GetColumnName()}")).ToHashSet();
        var there = (await bed.ListAsync(
            """
            select c.table_name || '.' || c.column_name from information_schema.columns c
              join information_schema.tables t using (table_schema, table_name)
             where c.table_schema = 'public' and t.table_type = 'BASE TABLE'
               and (c.data_type in ('text', 'character varying', 'json', 'jsonb', 'bytea') or c.udt_name in ('_text', '_varchar'))
               and c.table_name not in ('__EFMigrationsHistory', 'infant_status_snapshot')
            """)).Where(c => !coded.Contains(c)).ToHashSet();
        var decided = Decided();
        None(there.Except(decided.Keys));
        None(decided.Keys.Except(there));

        static void None(IEnumerable<string> columns)
        {
            var all = string.Join(' ', columns.Order());
            Assert.True(all.Length == 0, all);
        }
    }

    [Fact]
    public void What_is_said_to_be_encrypted_is_what_is_written_anew_with_a_new_key()
    {
        var written = EncryptedPlace.All.Select(p => $"{p.Table}.{p.Column}").Append("submission_chunks.bytes");
        var said = Decided().Where(d => d.Value == "encrypted" && d.Key != "form_keys.content").Select(d => d.Key);
        Assert.Equal(written.Order(), said.Order());
    }

    private static Dictionary<string, string> Decided() => File.ReadLines(Path.Combine(SourceTree.Root, "docs/security/text-columns.md"))
        .Select(l => Line().Match(l)).Where(m => m.Success)
        .SelectMany(m => m.Groups[1].Value.Split(',', StringSplitOptions.TrimEntries).Select(c => (c, m.Groups[2].Value)))
        .ToDictionary(d => d.c, d => d.Value);

    [GeneratedRegex(@"^\| ([a-z0-9_]+\.[a-z0-9_., ]+) \| (encrypted|hash|readable) \|")]
    private static partial Regex Line();
}
