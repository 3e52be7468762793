using Npgsql;
using Registry.Access;
using Registry.Platform.Database;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>Attacks on the database by somebody who holds the program's own logins: what they cannot do, whatever the program
/// does.</summary>
public sealed class DatabaseRightsTests(TestDatabase database)
{
    /// <summary>Refused by rights, or by a trigger.</summary>
    private static readonly string[] Refusals = [PostgresErrorCodes.InsufficientPrivilege, PostgresErrorCodes.IntegrityConstraintViolation];

    [Fact]
    public async Task Every_table_has_declared_rights()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var tables = await bed.ListAsync(
            "select c.relname from pg_class c where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p')");
        Assert.Equal(tables.Order(StringComparer.Ordinal), TableRights.All.Select(t => t.Table).Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task The_writer_cannot_rewrite_or_remove_what_is_append_only()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var columns = (await bed.ListAsync("select table_name || '.' || column_name from information_schema.columns "
            + "where table_schema = 'public'")).Select(c => c.Split('.')).ToLookup(c => c[0], c => c[1]);
        var appendOnly = TableRights.All.Where(t => t.IsAppendOnly).ToList();
        Assert.Contains(appendOnly, t => t.Table == "access_records");
        Assert.Contains(appendOnly, t => t.Table == "births");
        await AllRefusedAsync(bed.App.Logins.Writer, appendOnly.SelectMany(t => columns[t.Table]
            .Where(c => !t.Writes.Contains($"{c},", StringComparison.Ordinal) && !t.Writes.Contains($"{c})", StringComparison.Ordinal)
                || t.Table == "infants")
            .Select(c => $"update \"{t.Table}\" set \"{c}\" = \"{c}\"")
            .Append($"delete from \"{t.Table}\"")));
    }

    [Fact]
    public async Task The_writer_cannot_empty_drop_or_change_any_table_or_what_guards_it()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await AllRefusedAsync(bed.App.Logins.Writer, TableRights.All.SelectMany(t => new[]
        {
            $"truncate \"{t.Table}\" cascade",
            $"drop table \"{t.Table}\" cascade",
            $"alter table \"{t.Table}\" disable trigger all",
            $"alter table \"{t.Table}\" add column attack int",
            $"alter table \"{t.Table}\" disable row level security",
            $"create trigger attack before insert on \"{t.Table}\" for each row execute function refuse_change()",
            $"create rule attack as on insert to \"{t.Table}\" do instead nothing",
        }));
        await AllRefusedAsync(bed.App.Logins.Writer, Ways(bed.App.Logins));
    }

    [Fact]
    public async Task The_reader_writes_nothing_and_reads_no_table_it_was_not_given()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await AllRefusedAsync(bed.App.Logins.Reader, TableRights.All.SelectMany(t => new[]
        {
            $"insert into \"{t.Table}\" default values", $"delete from \"{t.Table}\"", $"truncate \"{t.Table}\"",
        }));
        await AllRefusedAsync(bed.App.Logins.Reader,
            TableRights.All.Where(t => t.Reader == ReaderSees.Nothing).Select(t => $"select * from \"{t.Table}\""));
        await AllRefusedAsync(bed.App.Logins.Reader, Ways(bed.App.Logins).Append("drop policy seen_by_site on births"));
    }

    [Fact]
    public async Task The_program_does_not_serve_with_a_login_that_could_undo_this()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var logins = bed.App.Logins;
        await GrantRights.CheckAsync(logins, IntakeBed.Ct);
        var writer = await Assert.ThrowsAsync<InvalidOperationException>(
            () => GrantRights.CheckAsync(logins with { Writer = logins.Owner! }, IntakeBed.Ct));
        Assert.Contains("could erase the access trail", writer.Message, StringComparison.Ordinal);
        var reader = await Assert.ThrowsAsync<InvalidOperationException>(
            () => GrantRights.CheckAsync(logins with { Reader = logins.Writer }, IntakeBed.Ct));
        Assert.Contains("viewers would see every infant", reader.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_was_granted_by_hand_is_taken_back_by_the_next_migration()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var name = new NpgsqlConnectionStringBuilder(bed.App.Logins.Writer).Username;
        await bed.App.AsOwnerAsync($"grant delete, truncate on access_records to {name}");
        await bed.App.AsOwnerAsync("grant delete on row_changes to public");
        await Verbs.MigrateAsync(bed.App.Services, IntakeBed.Ct);
        Assert.Equal(["False"], await bed.ListAsync(
            "select has_table_privilege('access_records', 'delete, truncate') or has_table_privilege('row_changes', 'delete')", []));
    }

    /// <summary>Ways to more rights than one was given.</summary>
    private static string[] Ways(DatabaseLogins logins)
    {
        var owner = new NpgsqlConnectionStringBuilder(logins.Owner).Username;
        return
        [
            $"set role {owner}", $"set session authorization {owner}", $"grant {owner} to current_user",
            "alter role current_user superuser", "alter role current_user bypassrls createrole", "set session_replication_role = replica",
            "create table attack (n int)", "create schema attack", "create function attack() returns int language sql as 'select 1'",
            "create or replace view infants_of_site as select id as infant_id from infants", "drop view infants_of_site",
            "create or replace function refuse_change() returns trigger language plpgsql as 'begin return null; end'",
            "drop function refuse_change() cascade", "update pg_trigger set tgenabled = 'D'", "copy access_records to program 'cat'",
        ];
    }

    private static async Task AllRefusedAsync(string login, IEnumerable<string> attacks)
    {
        await using var source = NpgsqlDataSource.Create(login + ";Pooling=false");
        await using var connection = await source.OpenConnectionAsync(IntakeBed.Ct);
        var (tries, gotIn) = (0, new List<string>());
        foreach (var attack in attacks)
        {
            tries++;
            await using var command = new NpgsqlCommand(attack, connection);
            try
            {
                await command.ExecuteNonQueryAsync(IntakeBed.Ct);
                gotIn.Add(attack);
            }
            catch (PostgresException refused) when (Refusals.Contains(refused.SqlState))
            {
            }
            catch (PostgresException other)
            {
                gotIn.Add($"{attack}: {other.SqlState} {other.MessageText}");
            }
        }

        Assert.True(gotIn.Count == 0, $"{tries} tries, got in: {gotIn.Count}\n{string.Join('\n', gotIn)}");
        TestContext.Current.TestOutputHelper?.WriteLine($"{tries} tries, got in: 0");
    }
}
