using Microsoft.Extensions.Configuration;
using Npgsql;
using Registry.Platform.Database;
using Registry.Platform.EmbeddedPostgres;

namespace Registry.Tests.Platform;

public sealed class ChooseDatabaseTests : IDisposable
{
    private readonly string _folder = EmbeddedPostgresTests.TemporaryFolder();
    private readonly List<string> _said = [];
    private static CancellationToken Cancel => TestContext.Current.CancellationToken;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task A_configured_connection_string_wins_and_its_password_is_not_said()
    {
        await using var running = await StartAsync(
            ("ConnectionStrings:Registry", "Host=db.example;Database=hearing;Username=app;Password=secret-word"),
            ("ConnectionStrings:RegistryReader", "Host=db.example;Database=hearing;Username=app_reader;Password=secret-word"),
            ("Database:Embedded:DataFolder", _folder));
        var line = Assert.Single(_said);
        Assert.Contains("'hearing' on db.example", line, StringComparison.Ordinal);
        Assert.DoesNotContain("secret-word", line, StringComparison.Ordinal);
        Assert.Empty(Directory.GetFileSystemEntries(_folder));
    }

    [Fact]
    public async Task An_unreadable_connection_string_is_refused_without_repeating_it()
    {
        var error = await Assert.ThrowsAsync<DatabaseStartException>(() =>
            StartAsync(("ConnectionStrings:Registry", "Hoost=x;Password=secret-word")));
        Assert.DoesNotContain("secret-word", error.ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Without_one_the_embedded_server_starts_with_the_named_database()
    {
        await using var running = await StartAsync(("Database:Embedded:DataFolder", _folder), ("Database:Name", "other"));
        await using var connection = new NpgsqlConnection(running.Logins.Owner + ";Pooling=false");
        await connection.OpenAsync(Cancel);
        Assert.Equal("other", connection.Database);
        Assert.Contains("ConnectionStrings:Registry is not set", _said[^1], StringComparison.Ordinal);
        var password = (await File.ReadAllTextAsync(Path.Combine(_folder, "password"), Cancel)).Trim();
        Assert.DoesNotContain(_said, line => line.Contains(password, StringComparison.Ordinal));
        if (!OperatingSystem.IsWindows())
            Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite, File.GetUnixFileMode(Path.Combine(_folder, "password")));
    }

    [Fact]
    public async Task Where_the_embedded_server_is_forbidden_a_missing_connection_string_stops_the_service()
    {
        var error = await Assert.ThrowsAsync<DatabaseStartException>(() => StartAsync(("Database:Embedded:Enabled", "false")));
        Assert.Contains("Set the connection string", error.Message, StringComparison.Ordinal);
    }

    private Task<RunningDatabase> StartAsync(params (string Key, string Value)[] settings) => ChooseDatabase.StartAsync(
        new ConfigurationBuilder().AddInMemoryCollection(settings.ToDictionary(s => s.Key, s => (string?)s.Value)).Build(), _said.Add,
        Cancel);
}
