using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.FollowUp;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.FollowUp;

/// <summary>An infant becomes lost, is found again, and is counted once each time.</summary>
public sealed class FindLossToFollowUpTests(TestDatabase database)
{
    private static readonly Viewer Coordinator = Viewer.Nobody with { PersonId = Guid.NewGuid(), Role = Role.Coordinator };

    [Fact]
    public async Task An_infant_is_lost_once()
    {
        await using var bed = await StartAsync();
        var job = bed.App.Services.GetRequiredService<FindLossToFollowUp>();
        Assert.Equal("1 infants newly lost, 0 no longer lost at that step", await job.RunAsync(IntakeBed.Ct));
        Assert.Equal("0 infants newly lost, 0 no longer lost at that step", await job.RunAsync(IntakeBed.Ct));
    }

    [Fact]
    public async Task An_infant_is_found_again_when_the_step_is_done()
    {
        await using var bed = await StartAsync();
        var job = bed.App.Services.GetRequiredService<FindLossToFollowUp>();
        await job.RunAsync(IntakeBed.Ct);
        await bed.SendAsync(
            """
            kind,record_number,ear,outcome,method,performed_at
            screening,A,right,pass,aabr,2026-11-20T10:00
            screening,A,left,pass,aabr,2026-11-20T10:05

            """);
        Assert.Equal("0 infants newly lost, 1 no longer lost at that step", await job.RunAsync(IntakeBed.Ct));
        Assert.Equal((0, 1), await job.SinceAsync(bed.App.Today, Coordinator, IntakeBed.Ct));
    }

    [Fact]
    public async Task Who_may_not_see_an_infant_is_not_told_of_its_loss()
    {
        await using var bed = await StartAsync();
        var job = bed.App.Services.GetRequiredService<FindLossToFollowUp>();
        await job.RunAsync(IntakeBed.Ct);
        Assert.Equal((1, 0), await job.SinceAsync(bed.App.Today, Coordinator, IntakeBed.Ct));
        Assert.Equal((0, 0), await job.SinceAsync(bed.App.Today, Viewer.Nobody, IntakeBed.Ct));
    }

    /// <summary>A was born in January and never screened: lost. B is five days old.</summary>
    private async Task<IntakeBed> StartAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,A,2026-01-10,female\nbirth,B,2026-11-20,male\n");
        Assert.Equal(["not_none"], await bed.ListAsync(
            "select case loss when 'none' then 'none' else 'not_none' end from infant_status where born_on < '2026-02-01'"));
        return bed;
    }
}
