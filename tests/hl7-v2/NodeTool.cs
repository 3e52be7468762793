using System.Diagnostics;

namespace Registry.Tests.Intake.Formats.Hl7V2;

/// <summary>Runs a script of a folder beside this one with Node.js; restores its packages from the registry when they are not there
/// yet.</summary>
internal static class NodeTool
{
    private static readonly SemaphoreSlim Restoring = new(1, 1);

    public static async Task<string[]> RunAsync(string root, string script, string[] arguments, CancellationToken ct,
        string tests = "hl7-v2")
    {
        var folder = Path.Combine(root, "tests", tests);
        await Restoring.WaitAsync(ct);
        try
        {
            var stamp = Path.Combine(folder, "node_modules", ".restored");
            var locked = Path.Combine(folder, "package-lock.json");
            if (!File.Exists(stamp) || File.GetLastWriteTimeUtc(stamp) < File.GetLastWriteTimeUtc(locked))
            {
                await StartAsync(folder, OperatingSystem.IsWindows() ? "npm.cmd" : "npm",
                    ["ci", "--no-audit", "--no-fund", "--ignore-scripts", "--loglevel=error"], ct);
                await File.WriteAllTextAsync(stamp, "", ct);
            }
        }
        finally
        {
            Restoring.Release();
        }

        return (await StartAsync(folder, "node", [script, .. arguments], ct))
            .Split('\n', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
    }

    private static async Task<string> StartAsync(string folder, string program, string[] arguments, CancellationToken ct)
    {
        using var process = Process.Start(new ProcessStartInfo(program, arguments)
        {
            WorkingDirectory = folder,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
        })!;
        try
        {
            var said = process.StandardOutput.ReadToEndAsync(ct);
            var complaint = process.StandardError.ReadToEndAsync(ct);
            await process.WaitForExitAsync(ct);
            return process.ExitCode == 0 ? await said : throw new InvalidOperationException(
                $"{program} {string.Join(' ', arguments)}: {await complaint}");
        }
        finally
        {
            if (!process.HasExited) process.Kill(entireProcessTree: true);
        }
    }
}
