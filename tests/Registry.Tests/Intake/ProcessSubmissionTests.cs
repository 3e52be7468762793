using Registry.Records;

namespace Registry.Tests.Intake;

public sealed class ProcessSubmissionTests(TestDatabase database)
{
    private const string Birth = "birth,A1,C1,2026-11-01,female,,Ada,Marlow,1995-02-03";

    [Fact]
    public async Task Births_and_tests_of_one_file_find_each_other_whatever_their_order()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendAsync(
            $"""
            kind,{IntakeBed.Who},ear,outcome,method,performed_at
            screening,A1,,,,,,,,right,pass,oae,2026-11-02T09:15
            {Birth},,,,
            screening,,C1,,,,,,,left,refer,aabr,2026-11-02 09:20:30
            screening,,,2026-11-01,female,,ADA,marlow,,left,pass,aabr,2026-11-12T10:00
            {Birth},,,,

            """);
        Assert.Equal(["accepted", "accepted", "accepted", "accepted", "unchanged"], await bed.OutcomesAsync(id));
        Assert.Equal(1, await bed.CountAsync("infants"));
        Assert.Equal(3, await bed.CountAsync("screenings"));
        Assert.Equal(["done 5 5 4 1 0 0"], await bed.ListAsync(
            "select concat_ws(' ', state, row_count, rows_done, accepted, unchanged, rejected, held) from submissions where id = $1", id.Value));
    }

    [Fact]
    public async Task Json_rows_are_applied_like_csv_rows()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendAsync(
            """
            {"rows":[
              {"kind":"birth","record_number":"A1","birth_date":"2026-11-01","sex":"male","plurality":1,"email_consent":true},
              {"kind":"screening","record_number":"A1","ear":"right","outcome":"pass","method":"oae","performed_at":"2026-11-02T09:15"}
            ]}
            """, format: SubmissionFormat.Json);
        Assert.Equal(["accepted", "accepted"], await bed.OutcomesAsync(id));
        id = await bed.SendAsync(
            """
            {"kind":"screening","record_number":"A1","ear":"right","outcome":"pass","method":"oae","performed_at":"2026-11-02T09:15"}
            {"kind":"screening","record_number":"A1","ear":"left","outcome":"pass","method":"oae","performed_at":"2026-11-02T09:16","reason":null}
            """, format: SubmissionFormat.Ndjson);
        Assert.Equal(["unchanged", "accepted"], await bed.OutcomesAsync(id));
    }
}
