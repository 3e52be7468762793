using System.Diagnostics;
using System.Text.RegularExpressions;

namespace Registry.Tests.Architecture;

/// <summary>Every foreign image is pinned by its digest. No digest can be looked up where the tests run: that the one command writes those
/// of the day where they belong is seen with a stand-in for the container engine's client.</summary>
public sealed partial class PinImagesTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("registry-images-").FullName;

    [Fact]
    public async Task Every_foreign_image_gets_the_digest_of_the_day_and_nothing_else_changes()
    {
        if (OperatingSystem.IsWindows()) return;
        Directory.CreateDirectory(Path.Combine(_folder, "deploy"));
        foreach (var file in (string[])["docker-compose.yml", "deploy/Dockerfile", "deploy/pin-images.sh"])
            File.Copy(Path.Combine(SourceTree.Root, file), Path.Combine(_folder, file));
        Assert.Equal(Image().Count(Text()), Digest().Count(Text()));
        var before = Digest().Replace(Text(), "");
        var foreign = Image().Count(before);
        Assert.True(foreign >= 4);
        foreach (var day in (string[])["1", "2"])
        {
            Assert.Equal(0, await PinAsync($"printf 'sha256:%064d' {day}"));
            Assert.Equal(foreign, Text().Split($"@sha256:{day.PadLeft(64, '0')}").Length - 1);
            Assert.Equal(before, Digest().Replace(Text(), ""));
        }

        // A tag nobody knows stops it.
        Assert.NotEqual(0, await PinAsync("echo 'not found'"));
        Assert.Equal(before, Digest().Replace(Text(), ""));
    }

    private string Text() => File.ReadAllText(Path.Combine(_folder, "docker-compose.yml"))
        + File.ReadAllText(Path.Combine(_folder, "deploy/Dockerfile"));

    private async Task<int> PinAsync(string answer)
    {
        var engine = Path.Combine(_folder, "docker");
        await File.WriteAllTextAsync(engine, $"#!/bin/sh\n{answer}\n", TestContext.Current.CancellationToken);
        if (!OperatingSystem.IsWindows())
            File.SetUnixFileMode(engine, UnixFileMode.UserRead | UnixFileMode.UserExecute | UnixFileMode.UserWrite);
        var start = new ProcessStartInfo("sh", [Path.Combine(_folder, "deploy/pin-images.sh")])
        {
            RedirectStandardOutput = true,
            RedirectStandardError = true,
        };
        start.Environment["PATH"] = $"{_folder}:{Environment.GetEnvironmentVariable("PATH")}";
        using var process = Process.Start(start)!;
        await process.WaitForExitAsync(TestContext.Current.CancellationToken);
        return process.ExitCode;
    }

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [GeneratedRegex(@"^( *image: |FROM )[^$@ \n]+:[^$@ \n]+", RegexOptions.Multiline)]
    private static partial Regex Image();

    [GeneratedRegex("@sha256:[0-9a-f]{64}")]
    private static partial Regex Digest();
}
