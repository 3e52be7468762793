namespace Registry.Tests.Intake.Rows;

/// <summary>Facts that open or delay a step: readmission with a condition that raises risk, a documented medical reason.</summary>
public sealed class ReadmissionRowsTests(TestDatabase database)
{
    [Fact]
    public async Task A_readmission_that_raises_risk_asks_for_a_repeat_screen_until_it_is_done()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(
            """
            kind,record_number,birth_date,sex,ear,outcome,method,performed_at,discharged_on
            birth,A1,2026-11-01,female,,,,,2026-11-03
            screening,A1,,,right,pass,aabr,2026-11-02T10:00,
            screening,A1,,,left,pass,aabr,2026-11-02T10:05,
            """);
        var id = await bed.SendAsync(
            """
            kind,record_number,admitted_on,discharged_on,raises_risk,step,from_on,ended_on
            readmission,A1,2026-11-10,,yes,,,
            readmission,A1,2026-11-10,2026-11-14,yes,,,
            readmission,A1,2026-11-10,2026-11-14,yes,,,
            readmission,A1,2026-11-10,,,,,
            readmission,A1,2026-11-10,2026-11-09,yes,,,
            medical_delay,A1,,,,screening,2026-11-15,
            medical_delay,A1,,,,screening,2026-11-15,2026-11-20
            """);
        Assert.Equal(
            [
                "accepted", "accepted", "unchanged",
                "rejected raises_risk: is required", "rejected discharged_on: is before admitted_on",
                "accepted", "accepted",
            ], await bed.OutcomesAsync(id));
        Assert.Equal(["repeat_screen"], await bed.ListAsync("select next_step from infant_status"));
        Assert.Equal(1, await bed.CountAsync("readmissions where superseded_at is null"));
        Assert.Equal(2, await bed.CountAsync("readmissions"));

        await bed.SendAsync(
            """
            kind,record_number,ear,outcome,method,performed_at
            screening,A1,right,pass,aabr,2026-11-14T10:00
            screening,A1,left,pass,aabr,2026-11-14T10:05
            """);
        Assert.Equal([""], await bed.ListAsync("select next_step from infant_status"));
    }
}
