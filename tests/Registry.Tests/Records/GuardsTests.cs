using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Records;

namespace Registry.Tests.Records;

/// <summary>What the database refuses, whoever asks: even the owner of the tables.</summary>
public sealed class GuardsTests(TestDatabase database)
{
    [Fact]
    public async Task The_model_and_the_migrations_agree()
    {
        await using var app = await RegistryApp.StartAsync(database);
        await using var db = app.OpenDb();
        Assert.False(db.Database.HasPendingModelChanges());
        Assert.Empty(await db.Database.GetPendingMigrationsAsync(TestContext.Current.CancellationToken));
    }

    [Fact]
    public async Task A_fact_is_never_edited_or_deleted_but_can_be_superseded()
    {
        await using var app = await RegistryApp.StartAsync(database);
        await using var db = app.OpenDb();
        var site = new Site { Id = SiteId.New(), Code = "tarn", Name = "Tarn Cottage Hospital", County = "Tarn" };
        var infant = new Infant { Id = InfantId.New(), CreatedAt = app.Today.ToDateTime(TimeOnly.MinValue, DateTimeKind.Utc) };
        var death = new DeathRecord
        {
            Id = Guid.CreateVersion7(),
            InfantId = infant.Id,
            SiteId = site.Id,
            DiedOn = app.Today,
            RecordedAt = infant.CreatedAt
        };
        db.AddRange(site, infant, death);
        await db.SaveChangesAsync(TestContext.Current.CancellationToken);

        await RefusedAsync(app, "update deaths set died_on = died_on - 1");
        await RefusedAsync(app, "delete from deaths");
        await RefusedAsync(app, "truncate deaths");
        await using var supersede = app.Source.CreateCommand("update deaths set superseded_at = now()");
        Assert.Equal(1, await supersede.ExecuteNonQueryAsync(TestContext.Current.CancellationToken));
    }

    [Fact]
    public async Task Raw_submissions_and_the_access_trail_are_append_only()
    {
        await using var app = await RegistryApp.StartAsync(database);
        foreach (var table in new[] { "submission_chunks", "access_records" })
        {
            await RefusedAsync(app, $"delete from {table}");
            await RefusedAsync(app, $"truncate {table}");
        }
    }

    [Fact]
    public async Task A_database_newer_than_the_program_is_refused_and_left_alone()
    {
        await using var app = await RegistryApp.StartAsync(database);
        await app.AsOwnerAsync(
            "insert into \"__EFMigrationsHistory\" (migration_id, product_version) values ('29990101000000_FromTheFuture', '99')");
        await using var db = app.OpenDb();
        var error = await Assert.ThrowsAsync<InvalidOperationException>(
            () => MigrateDatabase.RunAsync(db, TestContext.Current.CancellationToken));
        Assert.Contains("29990101000000_FromTheFuture", error.Message);
    }

    private static async Task RefusedAsync(RegistryApp app, string sql)
    {
        var error = await Assert.ThrowsAsync<PostgresException>(() => app.AsOwnerAsync(sql));
        Assert.Equal("23000", error.SqlState);
    }
}
