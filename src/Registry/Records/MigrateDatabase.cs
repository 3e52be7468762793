using Microsoft.EntityFrameworkCore;

namespace Registry.Records;

/// <summary>
/// Brings the database to the schema this executable needs, and refuses a database that is ahead of it.
/// In production only the <c>migrate</c> verb calls this; the embedded default calls it at start.
/// </summary>
public static class MigrateDatabase
{
    /// <returns>The names of the migrations applied, oldest first; empty when there was nothing to do.</returns>
    /// <exception cref="InvalidOperationException">The database holds migrations this executable does not know.</exception>
    public static async Task<IReadOnlyList<string>> RunAsync(RegistryDb db, CancellationToken ct)
    {
        await RefuseNewerAsync(db, ct);
        var pending = (await db.Database.GetPendingMigrationsAsync(ct)).ToList();
        await db.Database.MigrateAsync(ct);
        return pending;
    }

    /// <summary>Schema versions for readiness: the newest the database has, the newest the code needs.</summary>
    public static async Task<(string? Has, string Needs)> VersionsAsync(RegistryDb db, CancellationToken ct) =>
        ((await db.Database.GetAppliedMigrationsAsync(ct)).LastOrDefault(), db.Database.GetMigrations().Last());

    private static async Task RefuseNewerAsync(RegistryDb db, CancellationToken ct)
    {
        var known = db.Database.GetMigrations().ToHashSet();
        var applied = await db.Database.GetAppliedMigrationsAsync(ct);
        var unknown = applied.Where(m => !known.Contains(m)).ToList();
        if (unknown.Count > 0)
            throw new InvalidOperationException(
                $"The database is newer than this program (it has {string.Join(", ", unknown)}). Run the newer program; nothing was "
                    + "changed.");
    }
}
