using Npgsql;

namespace Registry.Tests.Platform;

public sealed class TestDatabaseTests(TestDatabase database)
{
    [Fact]
    public async Task Gives_empty_databases_and_copies()
    {
        var cancel = TestContext.Current.CancellationToken;
        var original = new NpgsqlConnectionStringBuilder(await database.CreateDatabaseAsync()) { Pooling = false };
        await using (var connection = new NpgsqlConnection(original.ConnectionString))
        {
            await connection.OpenAsync(cancel);
            await using var fill = new NpgsqlCommand("create table kept as select 42 as n", connection);
            await fill.ExecuteNonQueryAsync(cancel);
        }
        await using var copy = new NpgsqlConnection(await database.CreateFromTemplateAsync(original.Database!));
        await copy.OpenAsync(cancel);
        await using var read = new NpgsqlCommand("select n from kept", copy);
        Assert.Equal(42, await read.ExecuteScalarAsync(cancel));
    }
}
