using System.Diagnostics;
using System.Globalization;

namespace Registry.Platform.EmbeddedPostgres;

/// <summary>
/// PostgreSQL's <c>postmaster.pid</c>, written by a running server into its data: line 1 process id, line 4 port,
/// line 5 socket folder, line 6 TCP address.
/// Source: PostgreSQL documentation, "Database File Layout", and src/include/utils/pidfile.h.
/// </summary>
internal sealed record PostmasterPid(int ProcessId, int Port, string SocketFolder, string Address)
{
    // Larger than any system's highest process id, so no process ever answers to it.
    private const int NoProcess = int.MaxValue;

    /// <summary>Null when the file is missing or still being written.</summary>
    internal static PostmasterPid? Read(string cluster)
    {
        string[] lines;
        try
        {
            lines = File.ReadAllLines(FileIn(cluster));
        }
        catch (Exception error) when (error is FileNotFoundException or DirectoryNotFoundException)
        {
            return null;
        }
        if (lines.Length == 0 || !int.TryParse(lines[0].Trim(), CultureInfo.InvariantCulture, out var id)) return null;
        return new PostmasterPid(id,
            lines.Length > 3 && int.TryParse(lines[3].Trim(), CultureInfo.InvariantCulture, out var port) ? port : 0,
            lines.Length > 4 ? lines[4].Trim() : "",
            lines.Length > 5 ? lines[5].Trim() : "");
    }

    /// <summary>
    /// True when the process is a living server of exactly this cluster. After a crash the number may by now belong to
    /// any other process, so being alive is not enough.
    /// </summary>
    internal bool IsServerOf(string cluster)
    {
        if (OperatingSystem.IsLinux())
        {
            // A server's working folder is its cluster; a dead but not yet collected process has none.
            try
            {
                return File.ReadAllText($"/proc/{ProcessId}/cwd/postmaster.pid") == File.ReadAllText(FileIn(cluster))
                    && File.ReadAllText($"/proc/{ProcessId}/comm").StartsWith("postgres", StringComparison.Ordinal);
            }
            catch (Exception error) when (error is IOException or UnauthorizedAccessException)
            {
                return false;
            }
        }
        try
        {
            using var process = Process.GetProcessById(ProcessId);
            return process.ProcessName.StartsWith("postgres", StringComparison.OrdinalIgnoreCase);
        }
        catch (Exception error) when (error is ArgumentException or InvalidOperationException)
        {
            return false;
        }
    }

    /// <summary>
    /// After a crash, when the recorded number now belongs to an unrelated process, the server would refuse to start.
    /// Only that number is replaced: the rest of the file is how the server makes sure that no orphaned
    /// backend still has the data open, so the file must not be deleted.
    /// </summary>
    internal static void ForgetProcess(string cluster)
    {
        var file = FileIn(cluster);
        var lines = File.ReadAllLines(file);
        if (lines.Length == 0) return;
        lines[0] = NoProcess.ToString(CultureInfo.InvariantCulture);
        File.WriteAllText(file, string.Join('\n', lines) + "\n");
    }

    private static string FileIn(string cluster) => Path.Combine(cluster, "postmaster.pid");
}
