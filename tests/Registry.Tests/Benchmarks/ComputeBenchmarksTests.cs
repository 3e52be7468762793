using Microsoft.Extensions.DependencyInjection;
using Registry.Benchmarks;
using Registry.Tests.Intake;

namespace Registry.Tests.Benchmarks;

/// <summary>What is written down nightly: numbers counted by hand, and the same again when the job runs twice.</summary>
public sealed class ComputeBenchmarksTests(TestDatabase database)
{
    [Fact]
    public async Task Each_birth_month_is_written_down_once_a_day()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        // Born in September 2026, due by October: A in time, B late, C never, D died before a screen.
        await bed.SendAsync(
            """
            kind,record_number,birth_date,sex,ear,outcome,method,performed_at,died_on
            birth,A,2026-09-10,female,,,,,
            screening,A,,,right,pass,aabr,2026-09-11T10:00,
            screening,A,,,left,pass,aabr,2026-09-11T10:05,
            birth,B,2026-09-11,male,,,,,
            screening,B,,,right,pass,aabr,2026-11-11T10:00,
            screening,B,,,left,pass,aabr,2026-11-11T10:05,
            birth,C,2026-09-12,female,,,,,
            birth,D,2026-09-13,male,,,,,
            death,D,,,,,,,2026-09-14

            """);
        var job = bed.App.Services.GetRequiredService<ComputeBenchmarks>();
        for (var run = 0; run < 2; run++)
        {
            Assert.Equal("144 figures of 24 birth months", await job.RunAsync(IntakeBed.Ct));
            Assert.Equal(144, await bed.CountAsync("benchmark_results"));
            Assert.Equal(
                ["screened.eligible 1/3 1", "screened.served 1/2 1"],
                await bed.ListAsync("select format('%s %s/%s %s', measure, numerator, denominator, exclusions ->> 'excluded') from "
                    + "benchmark_results where period_start = '2026-09-01' and measure like 'screened%' order by measure"));
        }
    }
}
