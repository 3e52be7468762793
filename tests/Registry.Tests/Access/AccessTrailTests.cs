using System.Diagnostics;
using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging.Abstractions;
using Npgsql;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Architecture;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>The chain of the access trail, attacked by somebody who owns the tables and may switch every guard off; what it finds is held
/// against a verifier in another language that was written from docs/trail.md alone (tests/trail/verify.mjs).</summary>
public sealed class AccessTrailTests(TestDatabase database)
{
    private const string Guard = "access_records_append_only";

    [Fact]
    public async Task An_untouched_trail_is_intact_and_the_independent_verifier_says_the_same()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await FillAsync(bed);
        var found = await VerifyAsync(bed);
        Assert.Null(found.Problem);
        Assert.True(found.Entries > 20);
        Assert.Equal($"intact {found.Entries} {Convert.ToHexStringLower(found.Hash)}", await IndependentlyAsync(bed));
        Assert.StartsWith("The access trail is intact: ", VerifyTrail.Say(found), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("update access_records set action = 'GET /' where id = {5}", 5)]
    [InlineData("update access_records set at = at - interval '1 microsecond' where id = {5}", 5)]
    [InlineData("update access_records set person_id = null where id = {5}", 5)]
    [InlineData("update access_records set infants = array[gen_random_uuid()] where id = {5}", 5)]
    [InlineData("update access_records set address = '192.0.2.7' where id = {5}", 5)]
    [InlineData("update access_records set hash = sha256('x') where id = {5}", 5)]
    [InlineData("update access_records set hash = null where id = {5}", 5)]
    [InlineData("delete from access_records where id = {5}", 6)]
    [InlineData("delete from access_records where id < {5}", 5)]
    [InlineData("update access_records set id = id + 1000000 where id = {5}", 6)]
    [InlineData("insert into access_records (at, kind, action, infant_count) select now(), 'read', 'GET /', 1", -1)]
    [InlineData("insert into access_records (at, kind, action, infant_count, hash) select now(), 'read', 'GET /', 1, sha256('x')", -1)]
    public async Task An_entry_that_was_changed_removed_moved_or_added_is_the_first_that_is_found_broken(string attack, int broken)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await FillAsync(bed);
        var ids = await bed.ListAsync("select id from access_records order by id");
        for (var i = 0; i < 10; i++) attack = attack.Replace($"{{{i}}}", ids[i], StringComparison.Ordinal);
        await AttackAsync(bed, attack);
        var found = await VerifyAsync(bed);
        var expected = broken >= 0 ? ids[broken] : (await bed.ListAsync("select max(id) from access_records"))[0];
        Assert.Equal(expected, found.Broken?.Id.ToString(CultureInfo.InvariantCulture));
        Assert.Contains($"broken at entry {expected} of ", VerifyTrail.Say(found), StringComparison.Ordinal);
        Assert.Equal($"broken at {expected}", await IndependentlyAsync(bed));
    }

    [Theory]
    [InlineData("delete from access_records where id >= {5}", false)]
    [InlineData("delete from access_records", false)]
    [InlineData("delete from access_records where id = {5}", true)]
    [InlineData("update access_records set person_id = gen_random_uuid() where id = {5}", true)]
    public async Task A_trail_cut_off_or_chained_anew_does_not_end_as_its_digest_says(string attack, bool chainedAnew)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await FillAsync(bed);
        var digest = await DigestAsync(bed);
        Assert.Null((await VerifyAsync(bed)).Problem);
        var ids = await bed.ListAsync("select id from access_records order by id");
        await AttackAsync(bed, attack.Replace("{5}", ids[5], StringComparison.Ordinal));
        if (chainedAnew) await ChainAnewAsync(bed);
        var found = await VerifyAsync(bed);
        Assert.Contains(digest.Day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture), found.Problem, StringComparison.Ordinal);
        if (chainedAnew) Assert.StartsWith("intact", await IndependentlyAsync(bed), StringComparison.Ordinal); // only the digest tells
    }

    [Fact]
    public async Task Entries_of_two_programs_at_the_same_moment_are_one_chain_with_none_left_out()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await using var source = NpgsqlDataSource.Create(bed.App.Logins.Writer);
        AppendToTrail[] programs =
        [
            bed.App.Services.GetRequiredService<AppendToTrail>(),
            new(source, TimeProvider.System, NullLogger<AppendToTrail>.Instance),
        ];
        var before = await bed.CountAsync("access_records");
        await Task.WhenAll(Enumerable.Range(0, 600).Select(i => programs[i % 2].AddAsync(
            new() { Kind = AccessKind.Read, Action = $"GET /{i}", InfantCount = i })));
        Assert.Equal(before + 600, await bed.CountAsync("access_records"));
        Assert.Null((await VerifyAsync(bed)).Problem);
        Assert.StartsWith($"intact {before + 600} ", await IndependentlyAsync(bed), StringComparison.Ordinal);
        Assert.Equal(["0"], await bed.ListAsync(
            "select count(*) from (select at < lag(at) over (order by id) as back from access_records) t where back"));
    }

    [Fact]
    public async Task What_was_recorded_before_there_was_a_chain_is_chained_by_the_migration()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await FillAsync(bed);
        await using (var owner = NpgsqlDataSource.Create(bed.App.Logins.Owner + ";Pooling=false"))
        await using (var db = RecordsSetup.On(await owner.OpenConnectionAsync(IntakeBed.Ct)))
        {
            var migrations = db.Database.GetMigrations().ToList();
            var before = migrations[migrations.FindIndex(m => m.EndsWith("_AccessTrail", StringComparison.Ordinal)) - 1];
            await db.Database.MigrateAsync(before, IntakeBed.Ct);
        }

        await Verbs.MigrateAsync(bed.App.Services, IntakeBed.Ct);
        var found = await VerifyAsync(bed);
        Assert.Null(found.Problem);
        Assert.True(found.Entries > 20);
        Assert.Equal($"intact {found.Entries} {Convert.ToHexStringLower(found.Hash)}", await IndependentlyAsync(bed));
    }

    [Fact]
    public async Task Strangers_can_cause_only_so_many_entries_and_the_rest_is_counted()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var clock = new SetClock { Now = new(2026, 11, 25, 10, 0, 0, TimeSpan.Zero) };
        var trail = new AppendToTrail(bed.Source, clock, NullLogger<AppendToTrail>.Instance);
        for (var i = 0; i < 1000; i++)
            await trail.AddOfStrangerAsync(note => new() { Kind = AccessKind.KeyRefused, Action = "", Note = note });
        Assert.Equal(120, await bed.CountAsync("access_records"));
        clock.Now = clock.Now.AddMinutes(1);
        await trail.AddOfStrangerAsync(note => new() { Kind = AccessKind.KeyRefused, Action = "", Note = note });
        Assert.Equal(["and 880 before that were only counted"],
            await bed.ListAsync("select note from access_records order by id desc limit 1"));
    }

    [Fact]
    public async Task The_verb_says_which_entry_is_broken_and_exits_with_1()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await FillAsync(bed);
        var (intact, said) = await VerbAsync(bed);
        Assert.True(intact == 0 && said.Contains("The access trail is intact: ", StringComparison.Ordinal), said);
        var id = (await bed.ListAsync("select id from access_records order by id offset 7 limit 1"))[0];
        await AttackAsync(bed, $"update access_records set infant_count = infant_count + 1 where id = {id}");
        var (broken, told) = await VerbAsync(bed);
        Assert.True(broken == 1 && told.Contains($"The access trail is broken at entry {id} of ", StringComparison.Ordinal), told);
    }

    /// <summary>Reads, lists, a denial, failures: at least twenty entries of many kinds.</summary>
    private static async Task FillAsync(IntakeBed bed)
    {
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,T-1,2026-09-01,female\nbirth,T-2,2026-09-02,male\n");
        var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        foreach (var id in await bed.ListAsync("select id from infants"))
            foreach (var path in new[] { $"/infants/{id}", "/infants?handler=csv", "/follow-up?tray=search_again", "/infants",
                "/access/keys" })
                await client.GetAsync(path, IntakeBed.Ct);
        await client.GetAsync($"/infants/{Guid.CreateVersion7()}", IntakeBed.Ct);
        using var stranger = SignedIn.Nobody(bed);
        stranger.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", "reg_" + new string('x', 43));
        for (var i = 0; i < 10; i++)
            Assert.Equal(HttpStatusCode.Unauthorized, (await stranger.GetAsync("/api/v1/submissions", IntakeBed.Ct)).StatusCode);
    }

    private static async Task AttackAsync(IntakeBed bed, string attack)
    {
        await Assert.ThrowsAsync<PostgresException>(() => bed.App.AsOwnerAsync(
            attack.StartsWith("insert", StringComparison.Ordinal) ? "truncate access_records" : attack)); // the guard is switched off first
        await bed.App.AsOwnerAsync($"alter table access_records disable trigger {Guard}; {attack}; "
            + $"alter table access_records enable trigger {Guard}");
    }

    /// <summary>The most an owner can do: every hash computed again, by the program's own code.</summary>
    private static async Task ChainAnewAsync(IntakeBed bed)
    {
        await using var db = bed.App.OpenDb();
        var hash = ChainTrail.Beginning;
        var sql = new System.Text.StringBuilder($"alter table access_records disable trigger {Guard};");
        foreach (var entry in await db.AccessRecords.AsNoTracking().OrderBy(a => a.Id).ToListAsync(IntakeBed.Ct))
        {
            hash = ChainTrail.Hash(hash, entry);
            sql.Append(CultureInfo.InvariantCulture, $"update access_records set hash = '\\x{Convert.ToHexStringLower(hash)}' where id = {entry.Id};");
        }

        await bed.App.AsOwnerAsync(sql.ToString());
    }

    private static async Task<TrailDigest> DigestAsync(IntakeBed bed)
    {
        await using var db = bed.App.OpenDb();
        var tomorrow = new SetClock { Now = TimeProvider.System.GetUtcNow().AddDays(1) };
        return (await new DigestTrail(db, tomorrow, NullLogger<DigestTrail>.Instance).RunAsync(IntakeBed.Ct))!;
    }

    private static async Task<VerifiedTrail> VerifyAsync(IntakeBed bed)
    {
        await using var db = bed.App.OpenDb();
        return await new VerifyTrail(db).RunAsync(IntakeBed.Ct);
    }

    private static async Task<string> IndependentlyAsync(IntakeBed bed)
    {
        var lines = await bed.ListAsync("""
            select (to_jsonb(a) || jsonb_build_object('at', to_char(at at time zone 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.US"Z"'),
                'hash', encode(hash, 'hex')))::text
              from access_records a order by id
            """);
        var file = Path.GetTempFileName();
        try
        {
            await File.WriteAllLinesAsync(file, lines, IntakeBed.Ct);
            return (await RunAsync("node", [Path.Combine(SourceTree.Root, "tests/trail/verify.mjs"), file], new())).Said.Trim();
        }
        finally
        {
            File.Delete(file);
        }
    }

    private static Task<(int ExitCode, string Said)> VerbAsync(IntakeBed bed) => RunAsync(
        "dotnet", [typeof(Program).Assembly.Location, "verify-audit"], new()
        {
            ["ConnectionStrings__Registry"] = bed.App.Logins.Writer,
            ["ConnectionStrings__RegistryReader"] = bed.App.Logins.Reader,
            ["DOTNET_ENVIRONMENT"] = "Development",
            ["Demo__Enabled"] = "false",
        });

    private static async Task<(int ExitCode, string Said)> RunAsync(string program, string[] arguments, Dictionary<string, string> settings)
    {
        var start = new ProcessStartInfo(program, arguments) { RedirectStandardOutput = true, RedirectStandardError = true };
        foreach (var (key, value) in settings) start.Environment[key] = value;
        using var process = Process.Start(start)!;
        var error = process.StandardError.ReadToEndAsync(IntakeBed.Ct);
        var said = await process.StandardOutput.ReadToEndAsync(IntakeBed.Ct);
        await process.WaitForExitAsync(IntakeBed.Ct);
        return (process.ExitCode, said + await error);
    }

    private sealed class SetClock : TimeProvider
    {
        public DateTimeOffset Now { get; set; }

        public override DateTimeOffset GetUtcNow() => Now;
    }
}
