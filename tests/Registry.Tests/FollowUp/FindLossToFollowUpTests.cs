using System.Globalization;
using Microsoft.Extensions.DependencyInjection;
using Registry.FollowUp;
using Registry.Rules;
using Registry.Tests.Intake;

namespace Registry.Tests.FollowUp;

/// <summary>An infant becomes lost, is found again, and is counted once each time.</summary>
public sealed class FindLossToFollowUpTests(TestDatabase database)
{
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
        Assert.Equal(["screening 2026-11-25 completed"], await bed.ListAsync(
            "select step || ' ' || recovered_on || ' ' || recovered_as from loss_findings"));
    }

    /// <summary>The day by the rules, not the night: the deadline and the policy's days of grace, and the day after.</summary>
    [Fact]
    public async Task It_is_kept_since_when_by_the_rules()
    {
        await using var bed = await StartAsync();
        await bed.App.Services.GetRequiredService<FindLossToFollowUp>().RunAsync(IntakeBed.Ct);
        var deadline = DateOnly.Parse((await bed.ListAsync(
            "select screened_deadline_on::text from infant_status where born_on < '2026-02-01'"))[0], CultureInfo.InvariantCulture);
        var since = deadline.AddDays(Policy.Default.LossGraceDays + 1).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
        Assert.Equal([$"{since} 2026-11-25"], await bed.ListAsync("select lost_on || ' ' || found_on from loss_findings"));
    }

    /// <summary>The first night finds the weeks before it too: who was lost then, and came.</summary>
    [Fact]
    public async Task The_first_night_finds_what_had_been_before()
    {
        await using var bed = await StartAsync();
        await bed.SendAsync(
            """
            kind,record_number,ear,outcome,method,performed_at
            screening,A,right,pass,aabr,2026-11-20T10:00
            screening,A,left,pass,aabr,2026-11-20T10:05

            """);
        var job = bed.App.Services.GetRequiredService<FindLossToFollowUp>();
        Assert.Null(await job.FirstNightAsync(IntakeBed.Ct));
        Assert.Equal("0 infants newly lost, 0 no longer lost at that step", await job.RunAsync(IntakeBed.Ct));
        Assert.Equal(["screening 2026-11-20 completed 2026-11-25"], await bed.ListAsync(
            "select step || ' ' || recovered_on || ' ' || recovered_as || ' ' || found_on from loss_findings"));
        Assert.Equal(bed.App.Today, await job.FirstNightAsync(IntakeBed.Ct));
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
