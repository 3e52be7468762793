using Registry.Platform.EmbeddedPostgres;

namespace Registry.Tests.Platform;

public sealed class FindPostgresServerTests : IDisposable
{
    private readonly string _folder = EmbeddedPostgresTests.TemporaryFolder();
    private static CancellationToken Cancel => TestContext.Current.CancellationToken;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task The_server_of_the_npm_package_comes_first()
    {
        var found = await FindPostgresServer.AllAsync(null, Cancel);
        Assert.Equal("npm package", found[0].Origin);
        Assert.Equal(18, found[0].Version.Major);
    }

    [Fact]
    public async Task A_wrong_folder_is_named_with_what_is_needed()
    {
        var error = await Assert.ThrowsAsync<DatabaseStartException>(() => FindPostgresServer.AllAsync(_folder, Cancel));
        Assert.Contains(_folder, error.Message, StringComparison.Ordinal);
        Assert.Contains("bin/initdb", error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_binary_that_is_no_server_is_named_with_the_reason()
    {
        var bin = Directory.CreateDirectory(Path.Combine(_folder, "bin")).FullName;
        foreach (var tool in new[] { "postgres", "initdb", "pg_ctl" })
            await File.WriteAllTextAsync(PostgresServer.PathOf(bin, tool), "not a program", Cancel);
        var error = await Assert.ThrowsAsync<DatabaseStartException>(() => FindPostgresServer.AllAsync(_folder, Cancel));
        Assert.Contains("Tried: " + bin, error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Links_of_the_npm_package_are_made_and_made_again()
    {
        Assert.SkipWhen(OperatingSystem.IsWindows(), "the Windows package has none");
        var lib = Directory.CreateDirectory(Path.Combine(_folder, "native", "lib")).FullName;
        File.WriteAllText(Path.Combine(lib, "libpq.so.5.18"), "library");
        File.WriteAllText(Path.Combine(_folder, "native", "pg-symlinks.json"),
            """
            [
              {"source":"native/lib/libpq.so.5.18","target":"native/lib/libpq.so.5"},
              {"source":"native/lib/absent.so.1","target":"native/lib/absent.so"}
            ]
            """);

        FindPostgresServer.MakeLinks(_folder);
        FindPostgresServer.MakeLinks(_folder);

        Assert.Equal("library", File.ReadAllText(Path.Combine(lib, "libpq.so.5")));
        Assert.Equal("libpq.so.5.18", new FileInfo(Path.Combine(lib, "libpq.so.5")).LinkTarget);
        Assert.False(File.Exists(Path.Combine(lib, "absent.so")));
    }

    [Theory]
    [InlineData("postgres (PostgreSQL) 18.4\n", "18.4")]
    [InlineData("postgres (PostgreSQL) 15.18 (Debian 15.18-0+deb12u1)\n", "15.18")]
    [InlineData("postgres (PostgreSQL) 19beta1\n", "19.0")]
    public void Versions_are_read_as_the_binary_says_them(string output, string version) =>
        Assert.Equal(Version.Parse(version), PostgresServer.ReadVersion(output));
}
