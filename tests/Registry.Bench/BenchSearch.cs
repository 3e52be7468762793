using System.Diagnostics;
using System.Globalization;
using Npgsql;
using Registry.Access;
using Registry.Infants.Find;
using Registry.Infants.Statuses;
using Registry.Platform.Database;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Linkage;

namespace Registry.Bench;

/// <summary>
/// Finding an infant, in regions of two sizes, by a coordinator, a site and a case worker of its county: the page as it is posted, the
/// search beneath it by the program's own code (reader, row security, likeness of words, what is shown), and the bare query: one indexed
/// statement without row security, for infants whose words, days and numbers are known already. Last line: <c>ratio:</c> p95 of the search
/// over p95 of the bare query, the largest of all.
/// </summary>
internal static class BenchSearch
{
    private const int Searches = 240;
    private static readonly DateOnly Today = new(2026, 11, 25);

    /// <summary>One in so many has a telephone.</summary>
    private const int Phone = 500;

    public static async Task<int> RunAsync(int[] sizes)
    {
        await using var bench = await BenchServer.StartAsync();
        var worst = 0.0;
        foreach (var size in sizes)
        {
            var database = await bench.CreateAsync($"bench_search_{size}");
            await SeedAsync(database, size);
            worst = Math.Max(worst, await CompareAsync(database, size));
        }

        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"ratio: {worst:0.00}"));
        return 0;
    }

    private static async Task<double> CompareAsync(string owner, int size)
    {
        var logins = DatabaseLogins.Beside(owner);
        await using var secured = new ViewerDatabase(logins);
        await using var bare = NpgsqlDataSource.Create(owner);
        await using var program = new ProgramOnLoopback(owner);
        program.StartServer();
        var find = new FindInfants(secured);
        var site = new SiteId((Guid)(await ScalarAsync(bare, "select id from sites where code = 'bench-3'"))!);
        var worst = 0.0;
        foreach (var viewer in new[]
        {
            new Viewer(Guid.CreateVersion7(), null, Role.Coordinator, null, "coordinator"),
            new Viewer(Guid.CreateVersion7(), null, Role.SiteManager, site, "site manager"),
            new Viewer(Guid.CreateVersion7(), null, Role.CaseWorker, null, "case worker") { Counties = ["Lind 3"] },
        })
        {
            using var person = await program.PersonClientAsync(viewer.Role!.Value, viewer.SiteId, [.. viewer.Counties]);
            var before = "__RequestVerificationToken\" type=\"hidden\" value=\"";
            var token = (await person.GetStringAsync("/find")).Split(before)[1].Split('"')[0];
            var typed = await TypedAsync(bare, viewer.Role == Role.Coordinator ? null : site, size);
            var times = typed.Select(t => t.Kind).Distinct().ToDictionary(k => k, _ => new[] { new List<double>(), [], [] });
            var found = 0;
            foreach (var (n, (kind, text)) in typed.Index())
            {
                var terms = SearchTerm.Read(text);
                FoundInfants infants = null!;
                var search = await TimeAsync(async () => infants = await find.RunAsync(terms, viewer, CancellationToken.None));
                var least = await TimeAsync(() => BareAsync(bare, infants));
                using var form = new FormUrlEncodedContent([new("find", text), new("__RequestVerificationToken", token)]);
                var page = await TimeAsync(async () =>
                {
                    using var answer = await person.PostAsync("/find", form);
                    answer.EnsureSuccessStatusCode();
                    await answer.Content.ReadAsStringAsync();
                });
                found += infants.Infants.Count > 0 ? 1 : 0;
                if (n < 40) continue; // before that code, pools and plans are not warm
                foreach (var (i, took) in new[] { page, search, least }.Index()) times[kind][i].Add(took);
            }

            foreach (var (kind, all) in times) Say($"{size:N0} infants, {viewer.Name}, {kind}", all);
            var sum = Enumerable.Range(0, 3).Select(i => times.Values.SelectMany(t => t[i]).ToList()).ToArray();
            worst = Math.Max(worst, Say($"{size:N0} infants, {viewer.Name}, all ({found} of {typed.Count} found somebody)", sum));
        }

        return worst;
    }

    private static double Say(string what, List<double>[] times)
    {
        double At(int i, double share) => times[i].Order().ElementAt((int)((times[i].Count - 1) * share));
        var ratio = At(1, .95) / At(2, .95);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"{what,-70} page p50 {At(0, .5),6:0.0} p95 {At(0, .95),6:0.0} ms; search p50 {At(1, .5),6:0.0} p95 {At(1, .95),6:0.0} ms; "
                + $"bare p50 {At(2, .5),6:0.00} p95 {At(2, .95),6:0.00} ms; {ratio:0.00}"));
        return ratio;
    }

    /// <summary>The same infants by one statement of indexes, nothing to be understood, allowed or explained.</summary>
    private static async Task BareAsync(NpgsqlDataSource source, FoundInfants found)
    {
        await using var command = source.CreateCommand();
        var parts = found.Terms.Where(t => !found.AllButOne || t.Word is not null).Select((t, i) => t.Word is not null
            ? $"select infant_id, born_on from infant_words where word = any(@like{i})"
            : $"select infant_id, born_on from births where superseded_at is null and born_on = any(@days{i}) union all select infant_id, "
                + $"born_on from births where superseded_at is null and contact_phone_key = any(@phones{i}) union all select infant_id, "
                + $"null from infant_identifiers where superseded_at is null and kind = 'card_id' and value = any(@numbers{i}) union all "
                + "select infant_id, null from infant_identifiers where superseded_at is null and kind = 'record_number' and value = "
                + $"any(@numbers{i})").ToList();
        foreach (var (i, term) in found.Terms.Where(t => !found.AllButOne || t.Word is not null).Index())
        {
            command.Parameters.AddWithValue($"like{i}", found.Words.Where(w => term.Word is { } word && w[0] == word[0]).ToArray());
            command.Parameters.AddWithValue($"days{i}", term.Days.ToArray());
            command.Parameters.AddWithValue($"phones{i}", term.Phones.Select(p => FieldKeys.OfProcess.KeyOfPhone(p)!).ToArray());
            command.Parameters.AddWithValue($"numbers{i}", term.Numbers.ToArray());
        }

        command.CommandText = $"select b.* from (select t0.infant_id, max(t0.born_on) as born_on from ({parts[0]}) t0 "
            + string.Concat(parts.Skip(1).Select((p, i) => $"join ({p}) t{i + 1} on t{i + 1}.infant_id = t0.infant_id "))
            + "group by 1 order by 2 desc limit 26) f join births b on b.infant_id = f.infant_id and b.superseded_at is null";
        await using var reader = await command.ExecuteReaderAsync();
        while (await reader.ReadAsync())
        {
        }
    }

    /// <summary>What somebody types about infants of the site, or of all: each kind in turn.</summary>
    private static async Task<List<(string Kind, string Text)>> TypedAsync(NpgsqlDataSource source, SiteId? site, int size)
    {
        var typed = new List<(string, string)>();
        await using var command = source.CreateCommand(
            """
            select b.mother_given_name, b.mother_family_name, b.infant_given_name, b.born_on, i.value, c.value
              from births b
              join infant_identifiers i on i.infant_id = b.infant_id and i.kind = 'record_number'
              join infant_identifiers c on c.infant_id = b.infant_id and c.kind = 'card_id'
             where ($1 is null or b.site_id = $1) and b.infant_id = any($2) order by md5(b.id::text)
            """);
        command.Parameters.Add(new() { Value = (object?)site?.Value ?? DBNull.Value, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Uuid });
        command.Parameters.AddWithValue(Enumerable.Range(0, 200 * 20).Select(i => Id((i * (size / 4_000L / 20 * 20)) + 3)).ToArray());
        await using var reader = await command.ExecuteReaderAsync();
        while (typed.Count < Searches && await reader.ReadAsync())
        {
            var (given, family, child) = (reader.GetString(0), reader.GetString(1), reader.GetString(2));
            var born = reader.GetFieldValue<DateOnly>(3);
            var slip = family[..2] + family[3] + family[2] + family[4..];
            typed.Add(((typed.Count % 10) switch
            {
                0 => ("both names", $"{given} {family}"),
                1 => ("names swapped, a slip", $"{slip} {given}"),
                2 => ("a family name", family),
                3 => ("a child's name and a day", string.Create(CultureInfo.InvariantCulture, $"{child} {born:MM/dd/yyyy}")),
                4 => ("a day swapped with its month, a name", string.Create(CultureInfo.InvariantCulture, $"{family} {born:dd/MM/yyyy}")),
                5 => ("a record number", reader.GetString(4)),
                6 => ("a card", reader.GetString(5)),
                7 => ("a phone", PhoneOf(typed.Count * Phone % size)),
                8 => ("a given name", given),
                _ => ("nobody", $"zz{family}q {given} 1999-01-01"),
            }));
        }

        return typed;
    }

    private static Guid Id(long n) => Guid.Parse($"01900000-0000-7000-8000-{n:x12}");

    private static string PhoneOf(long n) => string.Create(CultureInfo.InvariantCulture, $"555{n:0000000}");

    private static async Task<double> TimeAsync(Func<Task> work)
    {
        var clock = Stopwatch.StartNew();
        await work();
        return clock.Elapsed.TotalMilliseconds;
    }

    /// <summary>Births of five years at twenty sites, with names made of syllables: some are everybody's, most are few people's.</summary>
    private static async Task SeedAsync(string owner, int infants)
    {
        var clock = Stopwatch.StartNew();
        const string id = "('01900000-0000-7000-8000-' || lpad(to_hex(n), 12, '0'))::uuid";
        var born = $"(date '2021-11-26' + ((n::bigint * 1825) / {infants})::int)";
        const string fact = "gen_random_uuid(), " + id + ", s.id, now()";
        var from = $"from generate_series(0, {infants - 1}) n join sites s on s.code = 'bench-' || n % 20";
        await using var source = NpgsqlDataSource.Create(owner + ";Pooling=false;CommandTimeout=3600");
        await using var connection = await source.OpenConnectionAsync();
        foreach (var sql in new[]
        {
            NameSql,
            "create temp table phones (infant int primary key, key text not null)",
            "insert into sites (id, code, name, county, kind, has_nicu, active) select gen_random_uuid(), 'bench-' || i, 'Bench ' || i, "
                + "'Lind ' || i, 'hospital', false, true from generate_series(0, 19) i",
        })
            await ExecuteAsync(connection, sql);
        await using (var copy = await connection.BeginBinaryImportAsync("copy phones from stdin (format binary)"))
        {
            for (var n = 0; n < infants; n += Phone)
            {
                await copy.StartRowAsync();
                await copy.WriteAsync(n);
                await copy.WriteAsync(FieldKeys.OfProcess.KeyOfPhone(PhoneOf(n))!);
            }

            await copy.CompleteAsync();
        }

        foreach (var sql in new[]
        {
            "analyze phones",
            $"insert into infants (id, created_at) select {id}, now() {from}",
            $"insert into infant_identifiers (id, infant_id, site_id, recorded_at, kind, value) select {fact}, k.kind, k.letter || n "
                + $"{from} cross join (values ('record_number', 'R'), ('card_id', 'C')) k (kind, letter)",
            "select setseed(0.5)",
            $"insert into births (id, infant_id, site_id, recorded_at, born_on, place, sex, mother_given_name, mother_family_name, "
                + $"infant_given_name, infant_family_name, mother_family_key, contact_phone_key, email_consent) select {fact}, {born}, "
                + "'hospital', 'female', bench_name((4000 * random() ^ 2)::int, 2), f.family, bench_name((6000 * random() ^ 2)::int, 2), "
                + $"f.family, upper(f.family), p.key, false {from} cross join lateral (select bench_name((80000 * random() ^ 3)::int + n % "
                + "2, 3) as family) f left join phones p on p.infant = n",
            "vacuum (analyze)",
        })
            await ExecuteAsync(connection, sql);
        await RecomputeStatuses.ForAllAsync(source, Today, Policy.Default, CancellationToken.None);
        await ExecuteAsync(connection, "vacuum (analyze) infant_status");
        var words = await ScalarAsync(source, "select count(*) from search_words");
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"invented {infants:N0} infants with {words:N0} different words in their names in {clock.Elapsed.TotalSeconds:0} s"));
    }

    /// <summary>The n-th name, of so many syllables and an ending.</summary>
    private const string NameSql =
        """
        create function bench_name(n int, syllables int) returns text language sql immutable as $$
          select initcap(
            (array['ma','ro','li','ta','ben','gar','mel','an','is','o','ste','vi','kra','shu','del','har','no','fi','wen','tor','el','ju',
              'pra','sa','quin','bo','di','ka','mor','lu','ha','ge'])[1 + n * 7 % 32]
            || (array['ri','na','ran','ck','lo','vi','der','mi','sen','ta','go','ne','ste','lia','ber','ron','do','xa','mon','ly','ket',
              'si','tu','wa','nel','cho','pa','zen','ru','fa','ki','lan'])[1 + n / 32 % 32]
            || case when syllables > 2 then (array['ma','li','so','ne','vor','ti','da','bel','kin','ra','mu','sel','go','han','pe',
              'ly'])[1 + n / 1024 % 16] else '' end
            || (array['a','o','ez','son','ley','ina','er','is','ton','ova','man','ette','ic','ard','us',
              'elle'])[1 + n / 1024 / 16 % 16]
            || (array['','s','t','n','d','l','r','z'])[1 + n % 8])
        $$
        """;

    private static async Task ExecuteAsync(NpgsqlConnection connection, string sql)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync();
    }

    private static async Task<object?> ScalarAsync(NpgsqlDataSource source, string sql)
    {
        await using var command = source.CreateCommand(sql);
        return await command.ExecuteScalarAsync();
    }
}
