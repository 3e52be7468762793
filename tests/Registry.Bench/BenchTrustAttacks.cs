using System.Diagnostics;
using System.Globalization;
using System.Text.RegularExpressions;
using Npgsql;
using Registry.Access;
using Registry.Platform.Database;
using Registry.Records;

namespace Registry.Bench;

/// <summary>The table of attacks: what was tried, how often, and how often it got in. Those on the database run here; those on the doors
/// are the tests', which also compare every answer to the letter, run as a program of their own.</summary>
internal static partial class BenchTrustAttacks
{
    private const string Doors = "Registry.Tests.Claims.Guesse*";

    /// <summary>A site that has nothing to do with any infant guesses at every door.</summary>
    public static async Task DoorsAsync()
    {
        Heading();
        var start = new ProcessStartInfo("dotnet")
        {
            ArgumentList = { "run", "-c", "Release", "--project", Tests(), "--", "-class", Doors, "-showLiveOutput" },
            RedirectStandardOutput = true,
            Environment = { ["REGISTRY_GUESSES"] = "10000" },
        };
        using var tests = Process.Start(start)!;
        while (await tests.StandardOutput.ReadLineAsync() is { } line)
        {
            if (Told().Match(line) is { Success: true } told)
                Line(told.Groups[1].Value, Number(told.Groups[2]), Number(told.Groups[3]));
            else if (line.Contains("[FAIL]", StringComparison.Ordinal) || line.Contains("Total:", StringComparison.Ordinal))
                Console.WriteLine(line.Trim());
        }

        await tests.WaitForExitAsync();
        if (tests.ExitCode != 0) throw new InvalidOperationException("An attack failed: its test says what.");
    }

    private static string Tests()
    {
        var folder = new DirectoryInfo(AppContext.BaseDirectory);
        while (!File.Exists(Path.Combine(folder.FullName, "Registry.sln")))
            folder = folder.Parent ?? throw new InvalidOperationException("The attacks lie beside the source, which is not here.");
        return Path.Combine(folder.FullName, "tests", "Registry.Tests");
    }

    /// <summary>Somebody holds the program's own logins, and no rule of its code stands in the way.</summary>
    public static async Task DatabaseAsync(DatabaseLogins logins, SiteId site)
    {
        await using var writer = NpgsqlDataSource.Create(logins.Writer);
        await using var reader = NpgsqlDataSource.Create(logins.Reader);
        await using var data = new ViewerDatabase(logins);
        await using var viewer = await data.OpenAsync(new(Guid.CreateVersion7(), null, Role.SiteManager, site, ""), CancellationToken.None);
        var appendOnly = TableRights.All.Where(t => t.IsAppendOnly).Select(t => t.Table).ToList();
        var secured = TableRights.All
            .Where(t => t is { IsRowSecured: true, Infant: not ("screening_id" or "diagnosis_id") }).ToList();
        Heading();
        await TryAsync("writer: rows of append-only tables deleted, or the table emptied", writer.CreateCommand,
            appendOnly.SelectMany(t => new[] { $"delete from \"{t}\"", $"truncate \"{t}\" cascade" }));
        await TryAsync("writer: guards of append-only tables switched off, tables dropped", writer.CreateCommand,
            appendOnly.SelectMany(t => new[] { $"alter table \"{t}\" disable trigger all", $"drop table \"{t}\" cascade" }));
        await TryAsync("reader: anything written, in any table", reader.CreateCommand,
            TableRights.All.SelectMany(t => new[] { $"insert into \"{t.Table}\" default values", $"delete from \"{t.Table}\"" }));
        await TryAsync("reader that said nothing of its viewer: any infant, in any table", reader.CreateCommand,
            secured.Select(t => $"select 1 from \"{t.Table}\" limit 1"));
        await TryAsync("reader for a site: an infant the site holds no fact of, in any table", sql => new(sql, viewer),
            secured.Select(t => $"select 1 from \"{t.Table}\" x where not exists (select from births b where b.infant_id = x.{t.Infant} "
                + $"and b.site_id = '{site}') limit 1"));
    }

    /// <summary>An attack got in when a statement is let through that changes something, or finds something.</summary>
    private static async Task TryAsync(string attack, Func<string, NpgsqlCommand> command, IEnumerable<string> statements)
    {
        var (tries, gotIn) = (0, 0);
        foreach (var sql in statements)
        {
            tries++;
            await using var one = command(sql);
            try
            {
                await using var found = await one.ExecuteReaderAsync();
                if (await found.ReadAsync() || !sql.StartsWith("select", StringComparison.Ordinal)) gotIn++;
            }
            catch (PostgresException e) when (e.SqlState is PostgresErrorCodes.InsufficientPrivilege)
            {
            }
        }

        Line(attack, tries, gotIn);
    }

    private static long Number(Group group) => long.Parse(group.Value, CultureInfo.InvariantCulture);

    private static void Heading() => Console.WriteLine($"{"attack",-95} {"tries",6} {"got in",7}");

    private static void Line(string attack, long tries, long gotIn) => Console.WriteLine($"{attack,-95} {tries,6} {gotIn,7}");

    [GeneratedRegex("attack: (.+); tries: ([0-9]+); got in: ([0-9]+)")]
    private static partial Regex Told();
}
