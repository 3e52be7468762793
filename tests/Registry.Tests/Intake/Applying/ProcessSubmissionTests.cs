using Microsoft.Extensions.DependencyInjection;
using Registry.Intake;
using Registry.Intake.Receiving;
using Registry.Records;

namespace Registry.Tests.Intake.Applying;

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
            "select concat_ws(' ', state, row_count, rows_done, accepted, unchanged, rejected, held) from submissions where id = $1",
            id.Value));
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

    private const string Header = "kind," + IntakeBed.Who + ",";
    private const string TestHeader = Header + "ear,outcome,method,performed_at\n";

    [Fact]
    public async Task Duplicated_rows_change_nothing()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        const string row = "screening,A1,,,,,,,,right,pass,oae,2026-11-02T09:15\n";
        await bed.SendAsync(Header.TrimEnd(',') + "\n" + Birth + "\n");
        Assert.Equal(["accepted", "unchanged", "unchanged"], await bed.OutcomesAsync(await bed.SendAsync(TestHeader + row + row + row)));
        Assert.Equal(["unchanged"], await bed.OutcomesAsync(await bed.SendAsync(TestHeader + row)));
        Assert.Equal(1, await bed.CountAsync("screenings"));
    }

    [Fact]
    public async Task A_rejected_row_says_why_keeps_its_content_and_stops_no_other()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendAsync(TestHeader + "screening,,,,,,,,,right,pass,oae,2026-11-02T09:15\n" + Birth
            + ",,,,\nscreening,A1,,,,,,,,right,pass,oae,2026-10-02T09:15\nscreening,A1,,,,,,,,middle,pass,oae,2026-11-02T09:15\n");
        Assert.Equal(
            [
                "rejected says too little about who it is: state record_number or card_id, or birth_date, mother_family_name and sex",
                "accepted",
                "rejected performed_at: is before the birth of the infant it is about",
                "rejected ear: unknown code; it is one of: right, left",
            ], await bed.OutcomesAsync(id));
        Assert.Equal(["2 3", "4 5"],
            (await bed.ListAsync("select concat_ws(' ', row_number, line) from submission_rows where row_number in (2, 4) order by 1")));
        Assert.Equal(["{\"kind\":\"screening\",\"record_number\":\"A1\",\"ear\":\"middle\",\"outcome\":\"pass\",\"method\":\"oae\","
            + "\"performed_at\":\"2026-11-02T09:15\"}"],
            await bed.ContentsAsync("submission_rows where row_number = 4"));
    }

    [Fact]
    public async Task A_birth_restated_by_its_site_is_a_correction_and_the_old_statement_stays()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        const string header = "kind,record_number,birth_date,sex,birth_weight_g,county\n";
        await bed.SendAsync(header + "birth,A1,2026-11-01,female,3100,Lind\n", at: bed.Now.AddDays(-3));
        Assert.Equal(["accepted"],
            await bed.OutcomesAsync(await bed.SendAsync(header + "birth,A1,2026-11-01,female,3200,\n", at: bed.Now.AddDays(-1))));
        Assert.Equal(["3100 Lind 22/24", "3200 Lind 24/"], await bed.ListAsync(
            "select concat_ws(' ', birth_weight_grams, county, to_char(recorded_at at time zone 'utc', 'DD') || '/' || "
                + "coalesce(to_char(superseded_at at time zone 'utc', 'DD'), '')) from births order by recorded_at"));
        Assert.Equal(["unchanged"], await bed.OutcomesAsync(await bed.SendAsync(header + "birth,A1,2026-11-01,female,3200,Lind\n")));
        Assert.Equal(["held identifier_contradicted"], await bed.OutcomesAsync(
            await bed.SendAsync(header + "birth,A1,2026-11-02,female,3200,Lind\n")));
    }

    [Fact]
    public async Task Another_site_may_complete_a_birth_but_not_contradict_it()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        const string header = "kind,card_id,birth_date,sex,birth_weight_g,county,infant_family_name,mother_family_name\n";
        await bed.SendAsync(header + "birth,C1,2026-11-01,female,3100,,Marlow,Marlow\n");
        Assert.Equal(["accepted", "held contradicts_record"], await bed.OutcomesAsync(
            await bed.SendAsync(header + "birth,C1,2026-11-01,,,Mere,MARLOW,Marlow\nbirth,C1,2026-11-01,,3300,,,Marlow\n", bed.Hill)));
        Assert.Equal(["harbour 3100 Mere Marlow"], await bed.ListAsync(
            "select concat_ws(' ', s.code, birth_weight_grams, b.county, infant_family_name) from births b join sites s on s.id = "
                + "b.site_id where superseded_at is null"));
    }

    [Fact]
    public async Task A_test_told_differently_is_held_and_the_recorded_one_stays()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(TestHeader + Birth + ",,,,\nscreening,A1,,,,,,,,right,refer,oae,2026-11-02T09:15\n");
        Assert.Equal(["held contradicts_record"], await bed.OutcomesAsync(
            await bed.SendAsync(TestHeader + "screening,A1,,,,,,,,right,pass,oae,2026-11-02T09:15\n")));
        Assert.Equal(["refer"], await bed.ListAsync("select outcome from screenings where superseded_at is null"));
    }

    [Fact]
    public async Task What_came_before_its_birth_applies_itself_when_the_birth_arrives()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var tests = await bed.SendAsync(TestHeader + """
            screening,A1,,,,,,,,right,pass,oae,2026-11-02T09:15
            screening,,,2026-11-01,female,,ada,marlow,,left,pass,oae,2026-11-02T09:16
            screening,B9,,,,,,,,left,pass,oae,2026-11-02T09:16

            """, at: bed.Now.AddDays(-2));
        // Another site knows the card: two details say whose, and once it has spoken of the infant the card alone does.
        const string elsewhere = "screening,,C1,,,,,,,left,refer,aabr,2026-11-05T09:16\n";
        var cardAlone = await bed.SendAsync(TestHeader + elsewhere, bed.Hill, at: bed.Now.AddDays(-2));
        Assert.Equal(["held no_such_infant", "held no_such_infant", "held no_such_infant"], await bed.OutcomesAsync(tests));

        await bed.SendAsync(TestHeader + Birth + ",,,,\n", at: bed.Now.AddDays(-1));
        Assert.Equal(["accepted", "accepted", "held no_such_infant"], await bed.OutcomesAsync(tests));
        Assert.Equal(["2 0 1"],
            await bed.ListAsync("select concat_ws(' ', accepted, rejected, held) from submissions where id = $1", tests.Value));
        Assert.Equal(["held no_such_infant"], await bed.OutcomesAsync(cardAlone));
        // Known when: the day the birth made it knowable, not the day the test was sent.
        Assert.Equal(["24"], await bed.ListAsync("select distinct to_char(recorded_at at time zone 'utc', 'DD') from screenings"));

        Assert.Equal(["accepted"], await bed.OutcomesAsync(await bed.SendAsync(
            TestHeader + "screening,,C1,2026-11-01,,,,marlow,,right,pass,oae,2026-11-06T09:15\n", bed.Hill)));
        // The one with the card alone followed by itself.
        Assert.Equal(["accepted"], await bed.OutcomesAsync(cardAlone));
    }

    [Fact]
    public async Task A_diagnosis_before_its_screen_and_before_its_birth_applies_itself()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        const string header = "kind," + IntakeBed.Who + ",evaluated_on,right_finding,left_finding,right_degree,left_degree\n";
        var diagnosis = await bed.SendAsync(
            header + "diagnosis,,C7,2026-11-01,female,,Ada,Marlow,,2026-11-20,sensorineural,normal,moderate,\n", bed.Hill,
            at: bed.Now.AddDays(-2));
        Assert.Equal(["held no_such_infant"], await bed.OutcomesAsync(diagnosis));

        await bed.SendAsync(TestHeader + "birth,A1,C7,2026-11-01,female,,Ada,Marlow,1995-02-03,,,,\n", at: bed.Now.AddDays(-1));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(diagnosis));
        const string status =
            "select concat_ws(' ', screened_state, diagnosed_state, diagnosed_on, hearing, laterality) from infant_status";
        Assert.Equal(["excluded met 2026-11-20 permanent_loss right"], await bed.ListAsync(status));

        // The screens it followed come last; what is known of the hearing stays what the evaluation found.
        Assert.Equal(["accepted", "accepted"], await bed.OutcomesAsync(await bed.SendAsync(TestHeader
            + "screening,A1,,,,,,,,right,refer,aabr,2026-11-02T09:15\nscreening,A1,,,,,,,,left,pass,aabr,2026-11-02T09:16\n")));
        Assert.Equal(["met met 2026-11-20 permanent_loss right"], await bed.ListAsync(status));
    }

    [Fact]
    public async Task A_late_birth_does_not_take_a_test_from_before_it()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var tests = await bed.SendAsync(TestHeader + "screening,A1,,,,,,,,right,pass,oae,2026-10-02T09:15\n");
        await bed.SendAsync(TestHeader + Birth + ",,,,\n");
        Assert.Equal(["rejected performed_at: is before the birth of the infant it is about"], await bed.OutcomesAsync(tests));
    }

    [Fact]
    public async Task Twins_of_one_file_stay_two_infants()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        const string header = "kind," + IntakeBed.Who + ",plurality,ear,outcome,method,performed_at\n";
        var id = await bed.SendAsync(header + """
            birth,T1,,2026-11-01,female,1,Ada,Marlow,1995-02-03,2,,,,
            birth,T2,,2026-11-01,female,2,Ada,Marlow,1995-02-03,2,,,,
            birth,T3,,2026-11-01,female,,Ada,Marlow,1995-02-03,2,,,,
            birth,T4,,2026-11-01,female,,Ada,Marlow,1995-02-03,,,,,
            screening,,,2026-11-01,female,2,Ada,Marlow,,,left,pass,aabr,2026-11-03T10:00
            screening,,,2026-11-01,female,,Ada,Marlow,,,left,pass,aabr,2026-11-03T10:00

            """);
        Assert.Equal(["accepted", "accepted", "held birth_order_missing", "held birth_order_missing", "accepted",
            "held birth_order_missing"], await bed.OutcomesAsync(id));
        Assert.Equal(["2"], await bed.ListAsync("select birth_order from births b join screenings s using (infant_id)"));
    }

    [Fact]
    public async Task Every_kind_of_row_is_recorded_once()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        const string header = "kind,record_number,birth_date,sex,evaluated_on,right_finding,left_finding,event,happened_on,died_on,move,moved_on,to_site,transferred_on,step,refused_on,revoked_on,indicator,noted_on,attempted_on,contact_outcome\n";
        const string rows = """
            birth,A1,2026-10-01,male,,,,,,,,,,,,,,,,,
            diagnosis,A1,,,2026-10-20,sensorineural,normal,,,,,,,,,,,,,,
            intervention,A1,,,,,,referred,2026-10-21,,,,,,,,,,,,
            death,A1,,,,,,,,2026-11-20,,,,,,,,,,,
            move,A1,,,,,,,,,out_of_region,2026-11-01,,,,,,,,,
            transfer,A1,,,,,,,,,,,hill,2026-10-10,,,,,,,
            refusal,A1,,,,,,,,,,,,,diagnosis,2026-10-11,,,,,
            risk,A1,,,,,,,,,,,,,,,,congenital_cmv,,,
            contact,A1,,,,,,,,,,,,,diagnosis,,,,,2026-10-12,no_response

            """;
        Assert.All(await bed.OutcomesAsync(await bed.SendAsync(header + rows)), o => Assert.Equal("accepted", o));
        Assert.All(await bed.OutcomesAsync(await bed.SendAsync(header + rows)), o => Assert.Equal("unchanged", o));
        Assert.Equal(["2026-10-01"], await bed.ListAsync("select noted_on::text from risks"));
        Assert.Equal(["accepted", "held contradicts_record"], await bed.OutcomesAsync(await bed.SendAsync(header + """
            refusal,A1,,,,,,,,,,,,,diagnosis,2026-10-11,2026-10-15,,,,
            death,A1,,,,,,,,2026-11-21,,,,,,,,,,,

            """)));
        Assert.Equal(["2026-10-15"], await bed.ListAsync("select revoked_on::text from refusals where superseded_at is null"));
    }

    [Fact]
    public async Task Killed_between_chunks_it_resumes_and_applies_every_row_once()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:ChunkRows"] = "10" });
        var receipt = await bed.ReceiveAsync(
            "kind,record_number,birth_date,sex\n" + string.Concat(Enumerable.Range(1, 95).Select(i => $"birth,{i},2026-11-01,female\n")));
        const string RowsDone = "select rows_done from submissions";
        while (await bed.CountAsync("submissions where state = 'done'") == 0)
        {
            using var kill = CancellationTokenSource.CreateLinkedTokenSource(IntakeBed.Ct);
            var before = await bed.ListAsync(RowsDone);
            var running = bed.Process.RunAsync(receipt.Id.Value, kill.Token);
            await Eventually.HoldsAsync(async () => running.IsCompleted || !before.SequenceEqual(await bed.ListAsync(RowsDone)));
            await kill.CancelAsync();
            try
            {
                await running;
            }
            catch (OperationCanceledException)
            {
                Assert.Equal(["True"], await bed.ListAsync(
                    "select rows_done = (select count(*) from submission_rows) and rows_done = (select count(*) from births) from "
                        + "submissions"));
            }
        }

        Assert.Equal(95, await bed.CountAsync("infants"));
        Assert.Equal(["95 95"], await bed.ListAsync("select concat_ws(' ', rows_done, accepted) from submissions"));
    }

    [Fact]
    public async Task Two_workers_at_one_submission_apply_it_once()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:ChunkRows"] = "50" });
        var receipt = await bed.ReceiveAsync(
            "kind,record_number,birth_date,sex\n" + string.Concat(Enumerable.Range(1, 500).Select(i => $"birth,{i},2026-11-01,female\n")));
        await Task.WhenAll(Enumerable.Range(0, 4)
            .Select(_ => Task.Run(() => bed.Process.RunAsync(receipt.Id.Value, IntakeBed.Ct), IntakeBed.Ct)));
        Assert.Equal(500, await bed.CountAsync("infants"));
    }

    [Fact]
    public async Task Submissions_at_the_same_moment_do_not_make_an_infant_twice()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:ChunkRows"] = "20" });
        // Eight senders, the same 120 infants in different order, half of them known by mother only.
        var receipts = new List<Receipt>();
        for (var sender = 0; sender < 8; sender++)
        {
            var order = Enumerable.Range(0, 120).OrderBy(i => (i * 7919 + (sender * 104729)) % 120).ToArray();
            receipts.Add(await bed.ReceiveAsync(TestHeader + string.Concat(order.Select(i =>
                $"birth,{(i % 2 == 0 ? $"R{i}" : "")},{(i % 3 == 0 ? $"C{i}" : "")},2026-11-{1 + (i % 20):00},female,,Given{i},Family{i},1990-01-01,,,,\n"
                + $"screening,,,2026-11-{1 + (i % 20):00},female,,Given{i},Family{i},,left,pass,aabr,2026-11-{2 + (i % 20):00}T10:00\n"))));
        }

        await Task.WhenAll(receipts.Select(r => Task.Run(() => bed.Process.RunAsync(r.Id.Value, IntakeBed.Ct), IntakeBed.Ct)));
        Assert.Equal(120, await bed.CountAsync("infants"));
        Assert.Equal(120, await bed.CountAsync("births where superseded_at is null"));
        Assert.Equal(120, await bed.CountAsync("screenings"));
        Assert.Equal(0, await bed.CountAsync("submission_rows where outcome not in ('accepted', 'unchanged')"));
        Assert.Equal(100, await bed.CountAsync("infant_identifiers"));
    }

    [Fact]
    public async Task The_sweep_finishes_what_was_left_behind()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.ReceiveAsync(TestHeader + Birth + ",,,,\n");
        var sweep = Microsoft.Extensions.DependencyInjection.ServiceProviderServiceExtensions.GetRequiredService<SweepSubmissions>(
            bed.App.Services);
        Assert.Equal(new Swept(1, 0, 0), await sweep.RunAsync(IntakeBed.Ct));
        Assert.Equal(new Swept(0, 0, 0), await sweep.RunAsync(IntakeBed.Ct));
        Assert.Equal(1, await bed.CountAsync("infants"));
    }
}
