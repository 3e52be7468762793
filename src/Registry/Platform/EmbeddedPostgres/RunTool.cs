using System.ComponentModel;
using System.Diagnostics;

namespace Registry.Platform.EmbeddedPostgres;

/// <summary>Runs one short-lived command and collects what it printed.</summary>
internal static class RunTool
{
    /// <summary>Exit code, and standard output and error together.</summary>
    internal sealed record Result(int ExitCode, string Output);

    /// <summary>Runs to the end. A command that cannot be started gives exit code -1 and the reason.</summary>
    internal static async Task<Result> RunAsync(string file, IEnumerable<string> arguments, string workingFolder, CancellationToken ct)
    {
        var start = new ProcessStartInfo(file, arguments)
        {
            WorkingDirectory = workingFolder,
            UseShellExecute = false,
            CreateNoWindow = true,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
        };
        // Messages in English and no surprises from the caller's locale; on macOS an unset locale makes the server refuse to start.
        start.Environment["LC_ALL"] = "C";
        foreach (var name in start.Environment.Keys.Where(key => key.StartsWith("PG", StringComparison.Ordinal)).ToList())
            start.Environment.Remove(name);

        try
        {
            using var process = Process.Start(start)!;
            var output = process.StandardOutput.ReadToEndAsync(CancellationToken.None);
            var error = process.StandardError.ReadToEndAsync(CancellationToken.None);
            await process.WaitForExitAsync(ct);
            // On Windows a started server may hold the pipes open for as long as it runs: do not wait for their end.
            await Task.WhenAny(Task.WhenAll(output, error), Task.Delay(TimeSpan.FromSeconds(1), CancellationToken.None));
            return new Result(process.ExitCode,
                (output.IsCompletedSuccessfully ? output.Result : "") + (error.IsCompletedSuccessfully ? error.Result : ""));
        }
        catch (Exception failure) when (failure is Win32Exception or IOException or UnauthorizedAccessException)
        {
            return new Result(-1, failure.Message);
        }
    }
}
