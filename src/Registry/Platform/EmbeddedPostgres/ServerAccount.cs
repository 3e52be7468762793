namespace Registry.Platform.EmbeddedPostgres;

/// <summary>
/// The operating-system user the server runs as: the service's own, unless that is root. PostgreSQL refuses to run as
/// root, so then the server's processes drop to an unprivileged user.
/// </summary>
internal sealed class ServerAccount
{
    private readonly string? _user;
    private readonly string? _group;
    private readonly string[] _prefix;

    private ServerAccount(string? user, string? group, string[] prefix) => (_user, _group, _prefix) = (user, group, prefix);

    /// <summary>True when the server runs as another user than the service.</summary>
    internal bool Drops => _user is not null;

    /// <summary>Decides the user. <paramref name="runAs"/> counts only when the service runs as root.</summary>
    internal static async Task<ServerAccount> ChooseAsync(string? runAs, CancellationToken ct)
    {
        // On Windows pg_ctl itself drops an administrator's rights (restricted token).
        if (OperatingSystem.IsWindows() || !Environment.IsPrivilegedProcess) return new ServerAccount(null, null, []);

        string[] names = runAs is { Length: > 0 } ? [runAs] : ["postgres", "nobody"];
        foreach (var name in names)
        {
            var user = await RunTool.RunAsync("id", ["-u", name], "/", ct);
            var group = await RunTool.RunAsync("id", ["-g", name], "/", ct);
            if (user.ExitCode != 0 || group.ExitCode != 0) continue;
            var (uid, gid) = (user.Output.Trim(), group.Output.Trim());
            if (uid == "0") throw new DatabaseStartException(
                $"Database:Embedded:RunAs is '{name}', which is root; PostgreSQL refuses to run as root. Name an ordinary user.");
            string[][] ways =
            [
                ["setpriv", "--reuid", uid, "--regid", gid, "--clear-groups", "--"],
                ["runuser", "-u", name, "--"],
                ["sudo", "-n", "-u", name, "--"],
            ];
            foreach (var way in ways)
            {
                if ((await RunTool.RunAsync(way[0], [.. way[1..], "true"], "/", ct)).ExitCode == 0)
                    return new ServerAccount(uid, gid, way);
            }
            throw new DatabaseStartException(
                $"The service runs as root and PostgreSQL must not, but no way to become '{name}' works (setpriv, runuser, sudo). Start "
                + "the service as an ordinary user.");
        }
        throw new DatabaseStartException(
            $"The service runs as root and PostgreSQL must not, but there is no user {string.Join(" or ", names)}. Set "
            + "Database:Embedded:RunAs to an ordinary user.");
    }

    /// <summary>Runs a command as the server's user.</summary>
    internal Task<RunTool.Result> RunAsync(string file, IEnumerable<string> arguments, string workingFolder, CancellationToken ct) =>
        Drops
            ? RunTool.RunAsync(_prefix[0], [.. _prefix[1..], file, .. arguments], workingFolder, ct)
            : RunTool.RunAsync(file, arguments, workingFolder, ct);

    /// <summary>Makes a file or folder, with all it holds, the server user's.</summary>
    internal async Task OwnAsync(string path, CancellationToken ct)
    {
        if (!Drops) return;
        var answer = await RunTool.RunAsync("chown", ["-hR", $"{_user}:{_group}", path], "/", ct);
        if (answer.ExitCode != 0)
            throw new DatabaseStartException($"Cannot give '{path}' to the database server's user: {answer.Output.Trim()}");
    }
}
