using Microsoft.EntityFrameworkCore.Infrastructure;
using Microsoft.EntityFrameworkCore.Migrations;
using Npgsql;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Records;

/// <summary>A registry that held data before corrections had a table of their own: the migration says of every closed fact which row closed
/// it.</summary>
public sealed class CorrectionsMigrationTests(TestDatabase database)
{
    [Fact]
    public async Task What_rows_closed_before_is_found_again()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        const string header = "kind,record_number,birth_date,sex,birth_weight_g,step,refused_on,revoked_on,from_on,ended_on\n";
        await bed.SendAsync(header + """
            birth,A1,2026-11-01,female,3100,,,,,
            birth,A1,2026-11-01,female,3200,,,,,
            birth,A1,2026-11-01,female,3300,,,,,
            refusal,A1,,,,diagnosis,2026-11-10,,,
            medical_delay,A1,,,,screening,,,2026-11-02,

            """, at: bed.Now.AddDays(-3));
        await bed.SendAsync(header + """
            birth,A1,2026-11-01,female,3400,,,,,
            refusal,A1,,,,diagnosis,2026-11-10,2026-11-12,,
            medical_delay,A1,,,,screening,,,2026-11-02,2026-11-09

            """, at: bed.Now.AddDays(-2));
        const string list = "select concat_ws(' ', kind, fact_id, action, infant_id, site_id, recorded_at, submission_id, row_number) "
            + "from corrections order by 1";
        var recorded = await bed.ListAsync(list);
        Assert.Equal(5, recorded.Count);

        await using var owner = NpgsqlDataSource.Create(bed.App.Logins.Owner + ";Pooling=false");
        await using var db = RecordsSetup.On(await owner.OpenConnectionAsync(IntakeBed.Ct));
        var migrator = db.GetService<IMigrator>();
        await migrator.MigrateAsync("20261125105657_PublishedReports", IntakeBed.Ct);
        await Verbs.MigrateAsync(bed.App.Services, IntakeBed.Ct);
        Assert.Equal(recorded, await bed.ListAsync(list));
    }
}
