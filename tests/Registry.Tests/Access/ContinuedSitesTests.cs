using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>The infants of a closed site are those of whoever continues it, from the closing on and along the line.</summary>
public sealed class ContinuedSitesTests(TestDatabase database)
{
    private const string Who = IntakeBed.Who;
    private const string Rows = "kind,record_number,birth_date,sex,mother_family_name\nbirth,HARBOUR-1,2026-08-01,female,Quist\n";

    [Fact]
    public async Task Who_continues_a_closed_site_sees_its_infants_along_the_line_and_not_before_it_is_closed()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var (tarn, moor) = (await bed.AddSiteAsync("tarn", SiteKind.Hospital), await bed.AddSiteAsync("moor", SiteKind.Hospital));
        using var administrator = await SignedIn.AsAsync(bed, Role.Administrator, null);
        using var ofTarn = await SignedIn.AsAsync(bed, Role.Screener, tarn);
        using var ofMoor = await SignedIn.AsAsync(bed, Role.SiteManager, moor);
        var today = $"{bed.App.Today:yyyy-MM-dd}";
        await SeeAsync("open", false, false);

        // Not said before the day: neither a day to come nor a site that is open is taken.
        await SaveAsync(administrator, "harbour", "", "tarn");
        await SaveAsync(administrator, "harbour", $"{bed.App.Today.AddDays(1):yyyy-MM-dd}", "tarn");
        await SeeAsync("not closed", false, false);
        await SaveAsync(administrator, "harbour", today, "tarn");
        await SeeAsync("closed", true, false);
        await SaveAsync(administrator, "tarn", today, "moor");
        await SeeAsync("the next is closed too", true, true);
        var infant = await CaseWorkerTests.IdAsync(bed, "HARBOUR-1");
        var record = await ofMoor.GetStringAsync($"/infants/{infant}", IntakeBed.Ct);
        Assert.Contains("Site moor", record, StringComparison.Ordinal); // who is called now
        var due = await ofMoor.GetStringAsync("/follow-up?tray=search_again", IntakeBed.Ct);
        Assert.Contains("HARBOUR-1", due, StringComparison.Ordinal);
        var report = await ofMoor.GetStringAsync("/sites/moor/report", IntakeBed.Ct);
        Assert.Contains("Quist", report, StringComparison.Ordinal); // the mother, whose infant's result is missing here
        await SaveAsync(administrator, "harbour", today, "tarn"); // saved anew with who continues it, closed by now
        await SeeAsync("saved anew", true, true);
        await SaveAsync(administrator, "tarn", "", "");
        await SeeAsync("the next is open again", true, false);
        await SaveAsync(administrator, "harbour", "", "");
        await SeeAsync("open again", false, false);
        Assert.True(await bed.CountAsync("site_changes where after ->> 'continued_by' is not null") >= 2);

        async Task SeeAsync(string when, bool tarnSees, bool moorSees)
        {
            foreach (var (client, site, sees) in new[] { (ofTarn, tarn, tarnSees), (ofMoor, moor, moorSees) })
            {
                var list = await client.GetStringAsync("/infants", IntakeBed.Ct);
                Assert.True(list.Contains("HARBOUR-1", StringComparison.Ordinal) == sees, when);
                await using var connection = await bed.App.Services.GetRequiredService<ViewerDatabase>().OpenAsync(
                    new(Guid.NewGuid(), null, Role.Screener, site, ""), IntakeBed.Ct);
                await using var beneath = new NpgsqlCommand(
                    "select (select count(*) from births) + (select count(*) from infant_sites)", connection);
                Assert.Equal(sees ? 2L : 0L, await beneath.ExecuteScalarAsync(IntakeBed.Ct));
            }
        }
    }

    /// <summary>What the site that continues reports about such an infant is a fact and no claim; another's is a claim.</summary>
    [Fact]
    public async Task Who_continues_a_site_is_known_to_its_infants()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync($"kind,{Who}\nbirth,HARBOUR-1,CARD-1,2026-08-01,female,,Ada,Quist,1995-02-03\n");
        var (tarn, moor) = (await bed.AddSiteAsync("tarn", SiteKind.Hospital), await bed.AddSiteAsync("moor", SiteKind.Hospital));
        await bed.ListAsync("update sites set closed_on = $1, active = false, continued_by = $2 where code = 'harbour' returning 1",
            bed.App.Today, tarn.Value);
        const string test = $"kind,{Who},ear,outcome,method,performed_at\n"
            + "screening,T-1,CARD-1,2026-08-01,female,,Ada,Quist,1995-02-03,right,pass,aabr,2026-08-20T09:15\n";
        Assert.Equal(["held awaits_confirmation"], await bed.OutcomesAsync(await bed.SendAsync(test, moor)));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(await bed.SendAsync(test, tarn)));
    }

    [Fact]
    public async Task No_site_names_itself_as_who_continues_another()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var tarn = await bed.AddSiteAsync("tarn", SiteKind.Hospital);
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, tarn);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        foreach (var client in new[] { manager, coordinator })
        {
            foreach (var path in new[] { "/places/edit/harbour", "/places/file?handler=Save", "/places/edit" })
            {
                using var answer = await SignedIn.SendFormAsync(client, path, ("Form.ClosedOn", "2026-11-01"), ("Form.ContinuedBy", "tarn"),
                    ("Text", "code,closed_on,continued_by\nharbour,2026-11-01,tarn\n"));
                Assert.Equal("/denied", answer.Headers.Location!.AbsolutePath);
            }
        }

        // A site that is open has no heir, whatever its row says; and a line that bites its tail ends.
        await bed.ListAsync("update sites set continued_by = $1 where code = 'harbour' returning 1", tarn.Value);
        Assert.Equal(0, await bed.CountAsync("site_heirs where heir_id <> site_id"));
        await bed.ListAsync("update sites set closed_on = $1, active = false, continued_by = case code when 'harbour' then $2 else "
            + "(select id from sites where code = 'harbour') end where code in ('harbour', 'tarn') returning 1", bed.App.Today, tarn.Value);
        Assert.Equal(2, await bed.CountAsync("site_heirs where heir_id <> site_id"));
        Assert.Equal(HttpStatusCode.OK, (await coordinator.GetAsync("/infants", IntakeBed.Ct)).StatusCode);
        Assert.Equal(HttpStatusCode.OK,
            (await coordinator.GetAsync($"/infants/{await CaseWorkerTests.IdAsync(bed, "HARBOUR-1")}", IntakeBed.Ct)).StatusCode);
    }

    private static async Task SaveAsync(HttpClient administrator, string code, string closedOn, string continuedBy)
    {
        using var answer = await SignedIn.SendFormAsync(administrator, "/places/file?handler=Save",
            ("Text", $"code,closed_on,continued_by\n{code},{closedOn},{continuedBy}\n"));
    }
}
