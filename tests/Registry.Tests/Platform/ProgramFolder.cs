using Registry.Platform.EmbeddedPostgres;

namespace Registry.Tests.Platform;

/// <summary>The data folder of a program that is a process of its own: its server is stopped and the folder deleted at the
/// end.</summary>
public sealed class ProgramFolder : IAsyncDisposable
{
    private readonly string _path = EmbeddedPostgresTests.TemporaryFolder();

    public static implicit operator string(ProgramFolder folder) => folder._path;

    public override string ToString() => _path;

    public async ValueTask DisposeAsync()
    {
        await EmbeddedServer.StopIfUnusedAsync(new() { DataFolder = _path }, _ => { }, CancellationToken.None);
        Directory.Delete(_path, recursive: true);
    }
}
