using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Reporting.Measures;

/// <summary>The survey's births by occurrence and residence, in military hospitals, and care outside Part C, through the intake (form OMB
/// 0920-0733; the lines outside Part C from memory).</summary>
public sealed class SurveyBirthsTests(TestDatabase database)
{
    private const string Births = "kind,record_number,birth_date,sex,mother_family_name,birth_place,residence_state\n"
        + "birth,A1,2026-02-01,female,Marlow,,LM\n"
        + "birth,A2,2026-02-01,male,Quist,military_hospital,lm\n"
        + "birth,A3,2026-02-01,male,Ness,,OS\n"
        + "birth,A4,2026-02-01,male,Lund,,\n"
        + "birth,A5,2026-02-01,male,Wrenn,out_of_region,LM\n";

    private const string Care = "kind,record_number,ear,outcome,method,performed_at,evaluated_on,right_finding,left_finding,event,happened_on\n";

    private static string Found(string number, string then) => string.Concat(new[] { "right", "left" }.Select(ear =>
            $"screening,{number},{ear},refer,aabr,2026-02-02T09:1{ear.Length},,,,,\n"))
        + $"diagnosis,{number},,,,,2026-04-01,sensorineural,sensorineural,,\n"
        + $"intervention,{number},,,,,,,,{then},2026-04-20\n";

    [Fact]
    public async Task Births_are_counted_by_occurrence_and_by_residence_and_military_ones_by_themselves()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Births);
        await bed.SendAsync(Care + Found("A1", "other_services") + Found("A2", "monitoring_only") + Found("A3", "enrolled"));
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var report = await client.MeasuresAsync("from=2026-01-01&to=2026-12-31");
        foreach (var (line, count) in new[]
        {
            ("births", 4), ("births.resident", 2), ("births.non_resident", 1), ("births.residence_unknown", 1),
            ("births.resident_elsewhere", 1), ("births.military", 1), ("loss", 3), ("intervention.enrolled", 1),
            ("intervention.other_services", 1), ("intervention.monitoring_only", 1), ("intervention.none.other", 2),
            ("intervention.lost", 0),
        })
            Assert.True(report.Count(line) == count, $"{line}: {report.Count(line)}");
        Assert.All(report.Groups[0].Sums, s => Assert.True(s.Holds, s.Name));
        Assert.Equal(1, await bed.CountAsync("infant_status where screened_reason like '%result by now: refer, both ears' and lost_at is null "
            + "and infant_id in (select infant_id from interventions where kind = 'other_services')"));
    }
}
