using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Infrastructure;
using Microsoft.EntityFrameworkCore.Migrations;
using Npgsql;
using Registry.Records;
using Registry.Rules.Quality;
using Registry.SiteQuality;
using Registry.SiteQuality.Flags;
using Registry.Tests.Intake;
using Registry.Tests.SiteQuality.Flags;

namespace Registry.Tests.Records;

/// <summary>Flags raised before their namings and the night that recorded them were kept stay, with what is known of both.</summary>
public sealed class FlagNamingsMigrationTests(TestDatabase database)
{
    [Fact]
    public async Task Flags_of_before_keep_their_evidence_and_are_named_as_they_were()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(FlagBed.Birth);
        var manager = await bed.AddPersonAsync(Role.SiteManager, bed.Harbour);
        var flag = FlagBed.Flag(bed.Harbour, recorded: new(2026, 11, 24));
        (flag.FoundCause, flag.FoundName, flag.State, flag.WatchedUntil) = (CauseKind.Instrument, "I1", FlagState.Watched, bed.App.Today);
        await FlagBed.AddAsync(bed, flag);
        await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour, found: new(2026, 11, 22), above: false));
        await using (var db = bed.App.OpenDb())
        {
            db.FlagActs.AddRange(new[] { FlagActKind.Watched, FlagActKind.Acted }.Select((kind, i) => new FlagAct
            {
                FindingId = flag.Id,
                Number = i + 1,
                Kind = kind,
                At = bed.Now,
                PersonId = manager.Id,
                Day = bed.App.Today,
            }));
            await db.SaveChangesAsync(IntakeBed.Ct);
        }

        await using var owner = NpgsqlDataSource.Create(bed.App.Logins.Owner + ";Pooling=false");
        await using (var db = RecordsSetup.On(await owner.OpenConnectionAsync(IntakeBed.Ct)))
            await db.GetService<IMigrator>().MigrateAsync("20261129162604_WorkCountsAndViews", IntakeBed.Ct);

        // Then a part could have one open flag of a measure.
        Assert.Equal(["t watched", "f closed 2026-11-25"],
            await bed.ListAsync("select concat_ws(' ', above, state, closed_on) from quality_findings order by found_on"));
        await Verbs.MigrateAsync(bed.App.Services, IntakeBed.Ct);
        await using var after = bed.App.OpenDb();
        var flags = await after.QualityFindings.AsNoTracking().OrderBy(f => f.FoundOn).ToListAsync(IntakeBed.Ct);
        Assert.Equal([flag.FoundOn, new DateOnly(2026, 11, 22)], flags.Select(f => f.RecordedOn));
        Assert.Equal((flag.Id, flag.Numerator, FlagState.Acted, null),
            (flags[0].Id, flags[0].Numerator, flags[0].State, flags[0].WatchedUntil));
        Assert.Equal([(flag.Raised, flag.FoundOn, (double?).97), (new CauseFactor(CauseKind.Instrument, "I1"), flag.AsOf, null)],
            flags[0].Namings.Select(n => (n.Part, n.On, n.Sure)));
        Assert.Equal(flags[1].Raised, Assert.Single(flags[1].Namings).Part);
    }
}
