using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.HeldRows;
using Registry.Intake.HeldRows.Bulk;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;
using static Registry.Tests.Intake.HeldRows.WaitingRowsForms;

namespace Registry.Tests.Intake.HeldRows;

/// <summary>Births that may be a known child, rows that contradict what is recorded, and rows that wait for a birth that waits: the person
/// sees both sides, and no second infant is made by accident.</summary>
public sealed class DecideSeeingTests(TestDatabase database)
{
    private const string Who = "kind," + IntakeBed.Who + ",ear,outcome,method,performed_at\n";
    private const string Ada = "birth,A1,C1,2026-11-01,female,,Ada,Marlow,1995-02-03,,,,\n";

    private static T Get<T>(IntakeBed bed) where T : notnull => bed.App.Services.GetRequiredService<T>();

    [Fact]
    public async Task A_new_infant_is_not_made_by_accident_of_a_birth_whose_number_is_known()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await bed.SendAsync(Who + Ada);
        var id = await bed.SendAsync(Who + "birth,A1,,2026-11-01,male,,Ada,Marlow,1995-02-03,,,,\n");
        Assert.Equal(["held identifier_contradicted"], await bed.OutcomesAsync(id));
        var row = $"/submissions/{id}/rows/1";

        Assert.Contains(HeldRowWords.IdentifierKnown, WebUtility.HtmlDecode(await coordinator.GetStringAsync(row, IntakeBed.Ct)),
            StringComparison.Ordinal);
        var said = await SaidAsync(coordinator, await PostAsync(coordinator, row, "New"));
        Assert.Contains(HeldRowWords.IdentifierKnown, WebUtility.HtmlDecode(said), StringComparison.Ordinal);
        Assert.Equal(1, await bed.CountAsync("infants"));

        await SaidAsync(coordinator, await PostAsync(coordinator, row, "New", null, ("known", "true")));
        Assert.Equal(2, await bed.CountAsync("infants"));
    }

    [Fact]
    public async Task Births_held_for_one_cause_are_decided_together_and_those_whose_number_is_known_are_left()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = (await bed.AddPersonAsync(Role.Coordinator)).Id;
        const int many = 385;
        var id = await bed.SendAsync(Who + Ada + string.Concat(Enumerable.Range(1, many).Select(i =>
            $"birth,B{i},,2026-11-01,female,,Ada,Marlow,{new DateOnly(1980, 8, 30).AddDays(i):yyyy-MM-dd},,,,\n"))
            + "birth,A1,,2026-11-01,male,,Ada,Marlow,1995-02-03,,,,\n");
        var held = await bed.ListAsync("select distinct reason from held_rows where resolution is null order by 1");
        Assert.Equal(["identifier_contradicted", "partial_agreement"], held);
        var tests = await bed.SendAsync(Who + string.Concat(Enumerable.Range(1, many).Select(i =>
            $"screening,B{i},,,,,,,,right,pass,aabr,2026-11-02T09:15\n")));

        var bulk = (await Get<ChooseRows>(bed).RunAsync(new(null, id, Kind: Codes.Of(RowKind.Birth)), null, by, IntakeBed.Ct))!.Value;
        Assert.True(await Get<StartBulkDecision>(bed)
            .DecideAsync(new() { Id = bulk, Kind = RowChangeKind.MadeNew, DecidedBy = by }, IntakeBed.Ct));
        var clock = System.Diagnostics.Stopwatch.StartNew();
        Assert.True(await Get<DecideInBulk>(bed).RunAsync(bulk, IntakeBed.Ct));
        TestContext.Current.SendDiagnosticMessage($"{many} births decided together in {clock.Elapsed.TotalSeconds:0.0} s");
        Assert.Equal([$"{many} done accepted ", $"1 not_done held {HeldRowWords.IdentifierKnown}"],
            (await Get<ReadBulkDecision>(bed).CountsAsync(bulk, IntakeBed.Ct))
                .Select(c => $"{c.Rows} {Codes.Of(c.State)} {Codes.Of(c.Outcome)} {c.Reason}"));
        Assert.Equal(many + 1, await bed.CountAsync("infants"));
        Assert.All(await bed.OutcomesAsync(tests), o => Assert.Equal("accepted", o));
    }

    [Fact]
    public async Task Two_held_births_of_one_child_make_one_infant_of_it_when_they_are_decided_together()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = (await bed.AddPersonAsync(Role.Coordinator)).Id;
        var vital = await bed.AddSiteAsync("vital", SiteKind.VitalRecords);
        await bed.SendAsync(Who + Ada);
        const string same = ",,2026-11-01,female,,Ada,Marlow,1990-08-30,,,,\n";
        var id = await bed.SendAsync(Who + "birth,B1" + same);
        await bed.SendAsync(Who + "birth,C2026-1" + same, vital);
        var bulk = (await Get<ChooseRows>(bed).RunAsync(new(null, Kind: Codes.Of(RowKind.Birth)), null, by, IntakeBed.Ct))!.Value;
        Assert.True(await Get<StartBulkDecision>(bed)
            .DecideAsync(new() { Id = bulk, Kind = RowChangeKind.MadeNew, DecidedBy = by }, IntakeBed.Ct));
        Assert.True(await Get<DecideInBulk>(bed).RunAsync(bulk, IntakeBed.Ct));
        Assert.Equal(["1 done accepted ", $"1 not_done held {HeldRowWords.ChildKnown}"],
            (await Get<ReadBulkDecision>(bed).CountsAsync(bulk, IntakeBed.Ct))
                .Select(c => $"{c.Rows} {Codes.Of(c.State)} {Codes.Of(c.Outcome)} {c.Reason}"));
        Assert.Equal(2, await bed.CountAsync("infants"));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(id));
    }

    [Fact]
    public async Task The_page_of_a_bulk_choice_of_births_offers_new_infants_and_of_other_rows_does_not()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var person = await bed.AddPersonAsync(Role.Coordinator);
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await bed.SendAsync(Who + Ada + "birth,B1,,2026-11-01,female,,Ada,Marlow,1990-08-30,,,,\nscreening,Z9,,,,,,,,right,pass,aabr,2026-11-02T09:15\n");
        var births = await Get<ChooseRows>(bed).RunAsync(new(null, Hold: HoldReason.PartialAgreement), null, person.Id, IntakeBed.Ct);
        var all = await Get<ChooseRows>(bed).RunAsync(new(null), null, person.Id, IntakeBed.Ct);
        Assert.DoesNotContain("Each is a new infant", await coordinator.GetStringAsync($"/submissions/held/bulk/{all}", IntakeBed.Ct),
            StringComparison.Ordinal);
        var page = $"/submissions/held/bulk/{births}";
        Assert.Contains("Each is a new infant", await coordinator.GetStringAsync(page, IntakeBed.Ct), StringComparison.Ordinal);
        await SaidAsync(coordinator, await PostAsync(coordinator, page, "New"));
        Assert.Equal(2, await bed.CountAsync("infants"));
    }

    [Fact]
    public async Task A_row_that_waits_for_a_waiting_birth_leads_to_it_and_deciding_it_says_how_many_it_released()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await bed.SendAsync(Who + Ada);
        var birth = await bed.SendAsync(Who + "birth,B1,,2026-11-01,female,,Ada,Marlow,1990-08-30,,,,\n");
        var tests = await bed.SendAsync(Who + "screening,B1,,,,,,,,right,pass,aabr,2026-11-02T09:15\nscreening,B1,,,,,,,,left,refer,aabr,2026-11-02T09:20\n");
        var row = $"/submissions/{birth}/rows/1";
        Assert.Contains(row, await coordinator.GetStringAsync($"/submissions/{tests}/rows/2", IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Contains("2 other rows wait for this birth", await coordinator.GetStringAsync(row, IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Contains("2 other rows that waited for it were settled with it",
            await SaidAsync(coordinator, await PostAsync(coordinator, row, "New")), StringComparison.Ordinal);
        Assert.Equal(["accepted", "accepted"], await bed.OutcomesAsync(tests));
    }

    [Theory]
    [InlineData("Discard", "refer"), InlineData("Match", "pass"), InlineData("Both", "pass refer")]
    public async Task A_conflict_is_decided_seeing_both_sides(string handler, string holds)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        const string otherwise = Who + "screening,A1,,,,,,,,right,pass,aabr,2026-11-02T09:15\n";
        await bed.SendAsync(Who + Ada + "screening,A1,,,,,,,,right,refer,aabr,2026-11-02T09:15\n");
        var id = await bed.SendAsync(otherwise);
        Assert.Equal(["held contradicts_record"], await bed.OutcomesAsync(id));
        var row = $"/submissions/{id}/rows/1";
        var page = await coordinator.GetStringAsync(row, IntakeBed.Ct);
        Assert.Contains("<del>Refer</del>", page, StringComparison.Ordinal);
        Assert.Contains("<ins>Pass</ins>", page, StringComparison.Ordinal);
        foreach (var words in (string[])[HeldRowWords.KeepRecorded, HeldRowWords.ReplaceIt, HeldRowWords.BothHappened])
            Assert.Contains(words, page, StringComparison.Ordinal);

        await SaidAsync(coordinator, await PostAsync(coordinator, row, handler, null, ("infant", HiddenOf(page, "infant"))));
        const string now = "select outcome from screenings where superseded_at is null order by 1";
        Assert.Equal(holds.Split(' '), await bed.ListAsync(now));
        Assert.Equal(["unchanged"], await bed.OutcomesAsync(await bed.SendAsync(otherwise)));
        Assert.Equal(["unchanged"], await bed.OutcomesAsync(
            await bed.SendAsync("kind,record_number,card_id,ear,outcome,method,performed_at\nscreening,A1,C1,right,refer,aabr,2026-11-02T09:15\n")));

        await SaidAsync(coordinator, await PostAsync(coordinator, row, "TakeBack"));
        Assert.Equal(["refer"], await bed.ListAsync(now));
        Assert.Equal(["held contradicts_record"], await bed.OutcomesAsync(id));
    }
}
