using System.Diagnostics;
using System.Security.Cryptography;
using System.Text;

namespace Registry.Platform.EmbeddedPostgres;

/// <summary>
/// Everything the private server keeps on disk: <c>pgdata</c> (the cluster), <c>log</c>, <c>socket</c>,
/// <c>password</c>, <c>server.conf</c> and, for root, <c>server-x.y</c> (a readable copy of the binaries).
/// Default: the user's data folder ($XDG_DATA_HOME, %LOCALAPPDATA%, ~/Library/Application Support)
/// + <c>/infant-hearing-registry</c>; for root <c>/var/lib/infant-hearing-registry</c>, as root's home is closed to the server's user.
/// </summary>
internal sealed class DataFolder
{
    // A socket's full path must fit in sockaddr_un.sun_path: 104 bytes on macOS, 108 on Linux, ending zero included.
    private const int LongestSocketPath = 103;
    private const string SocketName = ".s.PGSQL.5432";
    private const long LogSizeToRotate = 10 * 1024 * 1024;

    private DataFolder(string path) => Root = path;

    internal string Root { get; }
    internal string Cluster => Path.Combine(Root, "pgdata");
    internal string NewCluster => Path.Combine(Root, "pgdata.new");
    internal string LogFolder => Path.Combine(Root, "log");
    internal string Log => Path.Combine(LogFolder, "server.log");
    internal string SocketFolder => Path.Combine(Root, "socket");
    internal string PasswordFile => Path.Combine(Root, "password");
    internal string SettingsFile => Path.Combine(Root, "server.conf");

    internal static DataFolder Choose(string? configured, ServerAccount account)
    {
        if (configured is { Length: > 0 }) return new DataFolder(Path.GetFullPath(configured));
        var parent = account.Drops ? "/var/lib"
            : Environment.GetFolderPath(Environment.SpecialFolder.LocalApplicationData, Environment.SpecialFolderOption.DoNotVerify);
        return parent.Length > 0
            ? new DataFolder(Path.Combine(parent, "infant-hearing-registry"))
            : throw new DatabaseStartException("This user has no home folder to keep the database in. Set Database:Embedded:DataFolder.");
    }

    /// <summary>Creates what is missing and makes sure the server's user can reach it.</summary>
    internal async Task PrepareAsync(ServerAccount account, CancellationToken ct)
    {
        try
        {
            Create(Root, account.Drops ? "711" : "700");
            foreach (var folder in new[] { LogFolder, SocketFolder })
            {
                Create(folder, "700");
                await account.OwnAsync(folder, ct);
            }
            if (File.Exists(Log) && new FileInfo(Log).Length > LogSizeToRotate) File.Move(Log, Log + ".1", overwrite: true);
        }
        catch (Exception error) when (error is IOException or UnauthorizedAccessException)
        {
            throw new DatabaseStartException(
                $"The data folder '{Root}' cannot be written ({error.Message}). Set Database:Embedded:DataFolder to one that can, or "
                + "start as the user it belongs to.", error);
        }
        if (account.Drops && (await account.RunAsync("test", ["-w", LogFolder], "/", ct)).ExitCode != 0)
        {
            throw new DatabaseStartException(
                $"The data folder '{Root}' lies inside a folder closed to the database server's user (the service runs as root, the "
                + "server must not). Set Database:Embedded:DataFolder to one that is reachable, such as under /var/lib.");
        }
    }

    /// <summary>One process at a time starts or stops the server of this folder.</summary>
    internal async Task<IDisposable> LockToStartOrStopAsync(TimeSpan patience, CancellationToken ct)
    {
        var clock = Stopwatch.StartNew();
        while (true)
        {
            try
            {
                return OpenLock("start.lock", FileAccess.ReadWrite, FileShare.None);
            }
            catch (IOException) when (clock.Elapsed < patience)
            {
                await Task.Delay(100, ct);
            }
            catch (IOException error)
            {
                throw new DatabaseStartException(
                    $"Another process has been starting or stopping the server in '{Root}' for {patience.TotalSeconds:0} s: "
                    + $"{error.Message}", error);
            }
            catch (UnauthorizedAccessException error)
            {
                throw new DatabaseStartException(
                    $"The data folder '{Root}' belongs to another user ({error.Message}). Start as that user, or set "
                    + "Database:Embedded:DataFolder.", error);
            }
        }
    }

    /// <summary>Held by every process that uses the server; the system drops it when a process dies.</summary>
    internal IDisposable MarkInUse() => OpenLock("in-use.lock", FileAccess.Read, FileShare.Read);

    /// <summary>True while any living process uses the server.</summary>
    internal bool IsInUse()
    {
        try
        {
            using var only = OpenLock("in-use.lock", FileAccess.ReadWrite, FileShare.None);
            return false;
        }
        catch (IOException)
        {
            return true;
        }
    }

    /// <summary>A folder whose socket path is short enough; a new private temporary one when the data folder's is not.</summary>
    internal async Task<string> EmptySocketFolderAsync(ServerAccount account, CancellationToken ct)
    {
        // The server is known not to run: what lies here is left from a crash and its lock may name a reused process id.
        foreach (var left in Directory.EnumerateFiles(SocketFolder, SocketName + "*")) File.Delete(left);
        if (Fits(SocketFolder)) return SocketFolder;
        var folder = Directory.CreateTempSubdirectory("registry-").FullName;
        if (!Fits(folder)) throw new DatabaseStartException(
            $"Both '{SocketFolder}' and '{folder}' are too long for a socket (at most {LongestSocketPath} bytes). Set "
            + "Database:Embedded:DataFolder to a shorter path.");
        await account.OwnAsync(folder, ct);
        return folder;
    }

    /// <summary>The server's password, or a new random one kept in a file only its owner reads.</summary>
    internal string ReadOrCreatePassword()
    {
        if (File.Exists(PasswordFile)) return File.ReadAllText(PasswordFile).Trim();
        if (Directory.Exists(Cluster))
            throw new DatabaseStartException(
                $"'{PasswordFile}', the password of the server in '{Cluster}', is missing. Restore it beside the data.");
        var password = Convert.ToHexStringLower(RandomNumberGenerator.GetBytes(24));
        using var writer = new StreamWriter(new FileStream(PasswordFile, OwnerOnly(FileMode.CreateNew, FileAccess.Write, FileShare.None)));
        writer.Write(password);
        return password;
    }

    /// <summary>The last lines the server wrote after position <paramref name="from"/>.</summary>
    internal string LogTail(long from = 0)
    {
        const int Lines = 20;
        try
        {
            using var file = new FileStream(Log, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete);
            file.Seek(Math.Max(from <= file.Length ? from : 0, file.Length - 16 * 1024), SeekOrigin.Begin);
            using var reader = new StreamReader(file);
            return string.Join(Environment.NewLine, reader.ReadToEnd().Split('\n').Select(line => line.TrimEnd())
                .Where(line => line.Length > 0).TakeLast(Lines));
        }
        catch (Exception error) when (error is IOException or UnauthorizedAccessException)
        {
            return "";
        }
    }

    internal long LogLength() => File.Exists(Log) ? new FileInfo(Log).Length : 0;

    // Closed to others, who could otherwise hold the lock.
    private FileStream OpenLock(string name, FileAccess access, FileShare share) =>
        new(Path.Combine(Root, name), OwnerOnly(FileMode.OpenOrCreate, access, share));

    private static FileStreamOptions OwnerOnly(FileMode mode, FileAccess access, FileShare share)
    {
        var options = new FileStreamOptions { Mode = mode, Access = access, Share = share };
        if (!OperatingSystem.IsWindows()) options.UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite;
        return options;
    }

    private static bool Fits(string folder) => Encoding.UTF8.GetByteCount(Path.Combine(folder, SocketName)) <= LongestSocketPath;

    private static void Create(string folder, string mode)
    {
        if (OperatingSystem.IsWindows()) Directory.CreateDirectory(folder);
        else if (!Directory.Exists(folder)) Directory.CreateDirectory(folder, (UnixFileMode)Convert.ToInt32(mode, 8));
    }
}
