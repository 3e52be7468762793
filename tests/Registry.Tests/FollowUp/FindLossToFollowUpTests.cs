using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.FollowUp;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.FollowUp;

/// <summary>An infant becomes lost, is found again, and is counted once each time.</summary>
public sealed class FindLossToFollowUpTests(TestDatabase database)
{
    [Fact]
    public async Task Lost_once_and_recovered_when_the_step_is_done()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,A,2026-01-10,female\nbirth,B,2026-11-20,male\n");
        Assert.Equal(["not_none"], await bed.ListAsync(
            "select case loss when 'none' then 'none' else 'not_none' end from infant_status where born_on < '2026-02-01'"));
        var job = bed.App.Services.GetRequiredService<FindLossToFollowUp>();
        Assert.Equal("1 infants newly lost, 0 no longer lost at that step", await job.RunAsync(IntakeBed.Ct));
        Assert.Equal("0 infants newly lost, 0 no longer lost at that step", await job.RunAsync(IntakeBed.Ct));
        var coordinator = Viewer.Nobody with { PersonId = Guid.NewGuid(), Role = Role.Coordinator };
        Assert.Equal((1, 0), await job.SinceAsync(bed.App.Today, coordinator, IntakeBed.Ct));
        Assert.Equal((0, 0), await job.SinceAsync(bed.App.Today, Viewer.Nobody, IntakeBed.Ct));

        await bed.SendAsync(
            "kind,record_number,ear,outcome,method,performed_at\nscreening,A,right,pass,aabr,2026-11-20T10:00\nscreening,A,left,pass,aabr,2026-11-20T10:05\n");
        Assert.Equal("0 infants newly lost, 1 no longer lost at that step", await job.RunAsync(IntakeBed.Ct));
        Assert.Equal((0, 1), await job.SinceAsync(bed.App.Today, coordinator, IntakeBed.Ct));
    }
}
