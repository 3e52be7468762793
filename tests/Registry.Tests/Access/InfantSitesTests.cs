using Registry.Access;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>Which site sees which infant is kept beside the facts, and is at every moment what the facts say.</summary>
public sealed class InfantSitesTests(TestDatabase database)
{
    private static readonly string OfFacts = string.Join(" union ", InfantSites.SeenBy.Select(s =>
        $"select f.{s.Site} as site_id, f.infant_id from {s.Table} f where f.{s.Site} is not null and {s.Opens}"));

    /// <summary>The words of the birth that holds, for each site that sees the infant: by which a site finds it.</summary>
    private const string OfNames =
        """
        select b.infant_id, w.word, b.born_on, s.site_id, 'county:' || lower(coalesce(b.county, bs.county))
          from births b join infant_sites s on s.infant_id = b.infant_id join sites bs on bs.id = b.site_id
         cross join lateral unnest(array[b.mother_given_name, b.mother_family_name, b.infant_given_name, b.infant_family_name]) n (name)
         cross join lateral search_words_of(n.name) w (word)
         where b.superseded_at is null
        """;

    [Fact]
    public async Task Who_sees_whom_is_what_the_facts_say_whatever_is_added_closed_and_taken_back()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        Assert.True(await bed.CountAsync("infant_sites") > 100);
        await AgreesAsync("loaded");
        foreach (var (table, site) in InfantSites.SeenBy)
        {
            foreach (var (rows, which) in new[]
            {
                ("some", "where id in (select id from {0} where superseded_at is null order by id limit 40)"),
                ("all", "where superseded_at is null"),
            })
            {
                await RunAsync($"update {table} set superseded_at = '2026-11-25T12:00:00.123Z' " + string.Format(null, which, table));
                await AgreesAsync($"{rows} of {table} closed, by {site}");
            }

            await RunAsync($"update {table} set superseded_at = null where superseded_at = '2026-11-25T12:00:00.123Z'");
            await AgreesAsync($"{table} taken back, by {site}");
        }

        async Task AgreesAsync(string when)
        {
            var differ = await bed.CountAsync(
                $"((table infant_sites except ({OfFacts})) union all (({OfFacts}) except table infant_sites)) d");
            Assert.True(differ == 0, $"{differ} differ: {when}");
            var words = await bed.CountAsync(
                $"((table infant_words except ({OfNames})) union all (({OfNames}) except table infant_words)) d");
            Assert.True(words == 0, $"{words} words differ: {when}");
        }

        async Task RunAsync(string sql)
        {
            await using var command = bed.Source.CreateCommand(sql);
            await command.ExecuteNonQueryAsync(IntakeBed.Ct);
        }
    }

    /// <summary>Who writes a birth, and who shows the infant to one more site, wait for each other: neither overlooks what the other
    /// writes.</summary>
    [Fact]
    public async Task Words_follow_a_name_that_changes_while_one_more_site_comes()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var infants = Enumerable.Range(0, 12).ToList();
        const string who = "birth_date,sex,mother_birth_date,mother_given_name,mother_family_name";
        static string Mother(int i) => $"2026-09-01,female,1990-01-{i + 1:00},{(char)('A' + i)}lva,Marlow{(char)('a' + i)}";
        await bed.SendAsync($"kind,record_number,{who},infant_given_name\n"
            + string.Concat(infants.Select(i => $"birth,R{i},{Mother(i)},Ilse\n")));
        await Task.WhenAll(infants.SelectMany(i => new[]
        {
            bed.SendAsync($"action,kind,record_number,{who},infant_given_name\ncorrect,birth,R{i},{Mother(i)},Nora\n"),
            bed.SendAsync($"kind,record_number,{who},ear,outcome,method,performed_at\n"
                + $"screening,C{i},{Mother(i)},right,pass,aabr,2026-09-20T10:00\n", bed.Hill),
        }));
        Assert.Equal(12, await bed.CountAsync("infant_sites v join sites s on s.id = v.site_id and s.code = 'hill'"));
        Assert.Equal(["harbour nora 12", "hill nora 12"], await bed.ListAsync("select concat_ws(' ', s.code, w.word, count(*)) "
            + "from infant_words w join sites s on s.id = w.site_id where w.word in ('ilse', 'nora') group by s.code, w.word order by 1"));
    }

    [Fact]
    public async Task Every_table_that_says_who_sees_an_infant_keeps_it()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var kept = await bed.ListAsync("select tgrelid::regclass || ' ' || replace(tgfoid::regproc::text, 'keep_infant_sites_by_', '') "
            + "from pg_trigger where tgfoid::regproc::text like 'keep_infant_sites_by_%'");
        Assert.Equal(
            InfantSites.SeenBy.SelectMany(s => Enumerable.Repeat($"{s.Table} {s.Function}", 2)).Append("sites kind")
                .Order(StringComparer.Ordinal),
            kept.Order(StringComparer.Ordinal)); // added, and closed; and where a site's kind changes
    }

    [Fact]
    public async Task The_programs_logins_do_not_write_it_and_a_site_reads_its_own()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        foreach (var login in new[] { bed.App.Logins.Writer, bed.App.Logins.Reader })
        {
            await using var source = Npgsql.NpgsqlDataSource.Create(login + ";Pooling=false");
            foreach (var sql in new[]
            {
                "insert into infant_sites select id, (select id from infants limit 1) from sites", "delete from infant_sites",
                "update infant_sites set site_id = site_id", "select keep_infant_sites_by_site_id()",
            })
            {
                await using var command = source.CreateCommand(sql);
                var refused = await Assert.ThrowsAsync<Npgsql.PostgresException>(() => command.ExecuteNonQueryAsync(IntakeBed.Ct));
                Assert.Equal(Npgsql.PostgresErrorCodes.InsufficientPrivilege, refused.SqlState);
            }
        }
    }
}
