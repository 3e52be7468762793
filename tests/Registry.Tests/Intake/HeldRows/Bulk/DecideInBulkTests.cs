using Microsoft.Extensions.DependencyInjection;
using Registry.Intake;
using Registry.Intake.HeldRows;
using Registry.Intake.HeldRows.Bulk;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Tests.Intake.HeldRows.Bulk;

public sealed class DecideInBulkTests(TestDatabase database)
{
    private const string Header = "kind,record_number,birth_date,sex,mother_family_name,ear,outcome,method,performed_at\n";

    private static T Get<T>(IntakeBed bed) where T : notnull => bed.App.Services.GetRequiredService<T>();

    private static string Births(int n) =>
        string.Concat(Enumerable.Range(1, n).Select(i => $"birth,A{i},2026-11-01,female,Marlow{i},,,,\n"));

    private static string Screens(int n, string method) => string.Concat(
        Enumerable.Range(1, n).Select(i => $"screening,A{i},,,,right,pass,{method},2026-11-02T09:15\n"));

    private static async Task<Guid> ChooseAsync(IntakeBed bed, Guid by, WaitingFilter filter) =>
        (await Get<ChooseRows>(bed).RunAsync(filter, null, by, IntakeBed.Ct))!.Value;

    private static async Task DecideAsync(IntakeBed bed, BulkDecision bulk)
    {
        Assert.True(await Get<StartBulkDecision>(bed).DecideAsync(bulk, IntakeBed.Ct));
        Assert.True(await Get<DecideInBulk>(bed).RunAsync(bulk.Id, IntakeBed.Ct));
    }

    private static async Task<List<string>> CountsAsync(IntakeBed bed, Guid id) =>
        [.. (await Get<ReadBulkDecision>(bed).CountsAsync(id, IntakeBed.Ct))
            .Select(c => $"{c.Rows} {Codes.Of(c.State)} {Codes.Of(c.Outcome)} {c.Reason}".Trim())];

    [Fact]
    public async Task One_column_is_corrected_in_all_rows_alike_and_the_whole_is_taken_back()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = (await bed.AddPersonAsync(Role.Screener, bed.Harbour)).Id;
        var id = await bed.SendAsync(Header + Births(40) + Screens(40, "te-oae")
            + "screening,A1,,,,left,pass,te-oae,2026-13-02T09:15\nscreening,A1,,,,left,pass,dp,2026-11-02T09:15\n");
        Assert.Equal(42, await bed.CountAsync("submission_rows where outcome = 'rejected'"));
        var bulk = await ChooseAsync(bed, by, new(bed.Harbour, Outcome: RowOutcome.Rejected));
        await DecideAsync(bed,
            new() { Id = bulk, Kind = RowChangeKind.Corrected, DecidedBy = by, Field = "method", FromValue = "te-oae", ToValue = "teoae" });
        Assert.Equal(
            [
                "40 done accepted", "1 not_done rejected The row does not state what was to be changed.",
                "1 not_done rejected not applied: Performed at: is not a day of the calendar",
            ],
            await CountsAsync(bed, bulk));
        Assert.Equal(40, await bed.CountAsync("screenings where superseded_at is null"));
        Assert.Equal(["80 2"], await bed.ListAsync("select concat_ws(' ', accepted, rejected) from submissions where id = $1", id.Value));
        Assert.False(await Get<StartBulkDecision>(bed)
            .DecideAsync(new() { Id = bulk, Kind = RowChangeKind.Discarded, DecidedBy = by }, IntakeBed.Ct));

        Assert.True(await Get<StartBulkDecision>(bed).TakeBackAsync(bulk, by, IntakeBed.Ct));
        await Get<SweepSubmissions>(bed).RunAsync(IntakeBed.Ct); // as when the worker was killed
        Assert.StartsWith("40 taken_back rejected", (await CountsAsync(bed, bulk))[0], StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("screenings where superseded_at is null"));
        Assert.Equal(["40 42"], await bed.ListAsync("select concat_ws(' ', accepted, rejected) from submissions where id = $1", id.Value));
        Assert.False(await Get<StartBulkDecision>(bed).TakeBackAsync(bulk, by, IntakeBed.Ct));
    }

    [Fact]
    public async Task A_row_that_was_settled_meanwhile_or_changed_since_is_left_alone_and_says_so()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var person = await bed.AddPersonAsync(Role.Coordinator);
        var by = new Decider(person.Id);
        var id = await bed.SendAsync(Header + Screens(3, "teoae"));
        var bulk = await ChooseAsync(bed, person.Id, new(null));
        await bed.SendAsync(Header + "birth,A2,2026-11-01,female,Marlow2,,,,\n"); // row 2 settles itself
        await DecideAsync(bed, new() { Id = bulk, Kind = RowChangeKind.Discarded, DecidedBy = person.Id });
        var counts = await CountsAsync(bed, bulk);
        Assert.Equal("2 done rejected", counts[0]);
        Assert.StartsWith("1 not_done accepted The row waits no more: it settled itself", counts[1], StringComparison.Ordinal);

        // One of them is taken back by hand, and corrected: the undo of the whole leaves it.
        Assert.Null(await Get<TakeBackDecision>(bed).RunAsync(id, 1, by, null, IntakeBed.Ct));
        Assert.NotNull((await Get<DecideRow>(bed).CorrectAsync(id, 1, row =>
            new Dictionary<Field, string>(row) { [Field.Ear] = "left" }, by, IntakeBed.Ct)).Outcome);
        await Get<StartBulkDecision>(bed).TakeBackAsync(bulk, person.Id, IntakeBed.Ct);
        await Get<DecideInBulk>(bed).RunAsync(bulk, IntakeBed.Ct);
        Assert.Equal(["left", "right", "right"], await bed.StatedAsync(Field.Ear));
        Assert.Equal(["held no_such_infant", "accepted", "held no_such_infant"], await bed.OutcomesAsync(id));
    }

    [Fact]
    public async Task Rows_about_one_infant_are_matched_together()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = (await bed.AddPersonAsync(Role.Coordinator)).Id;
        await bed.SendAsync(Header + Births(1));
        await bed.SendAsync(Header
            + "screening,X1,,,,right,pass,teoae,2026-11-02T09:15\nscreening,X1,,,,left,refer,teoae,2026-11-02T09:20\n");
        var infant = new InfantId(Guid.Parse((await bed.ListAsync("select id from infants"))[0]));
        var bulk = await ChooseAsync(bed, by, new(null));
        await DecideAsync(bed, new() { Id = bulk, Kind = RowChangeKind.Matched, DecidedBy = by, InfantId = infant });
        Assert.Equal(["refer pass"],
            await bed.ListAsync("select string_agg(outcome, ' ' order by ear) from screenings where superseded_at is null"));
        await Get<StartBulkDecision>(bed).TakeBackAsync(bulk, by, IntakeBed.Ct);
        await Get<DecideInBulk>(bed).RunAsync(bulk, IntakeBed.Ct);
        Assert.Equal(["2 taken_back held"], await CountsAsync(bed, bulk));
        Assert.Equal(0, await bed.CountAsync("screenings where superseded_at is null"));
    }

    [Fact]
    public async Task A_site_chooses_among_its_own_rows_only()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = (await bed.AddPersonAsync(Role.SiteManager, bed.Hill)).Id;
        var id = await bed.SendAsync(Header + Screens(2, "teoae"));
        Assert.Null(await Get<ChooseRows>(bed).RunAsync(new(bed.Hill), [(id, 1)], by, IntakeBed.Ct));
        Assert.Equal(0, await bed.CountAsync("bulk_decisions"));
        var all = await Get<ChooseRows>(bed).RunAsync(new(bed.Harbour), [(id, 1)], by, IntakeBed.Ct);
        Assert.Equal(1, await bed.CountAsync($"bulk_rows where bulk_id = '{all}'"));
    }

    [Fact]
    public async Task A_row_changed_since_it_was_chosen_is_left_alone()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var person = await bed.AddPersonAsync(Role.Coordinator);
        var id = await bed.SendAsync(Header + Screens(2, "teoae"));
        var bulk = await ChooseAsync(bed, person.Id, new(null));
        Assert.Equal(RowOutcome.Held,
            (await Get<DecideRow>(bed).CorrectAsync(id, 1, row => new Dictionary<Field, string>(row) { [Field.Ear] = "left" },
            new(person.Id), IntakeBed.Ct)).Outcome);
        await DecideAsync(bed, new() { Id = bulk, Kind = RowChangeKind.Discarded, DecidedBy = person.Id });
        Assert.Equal(["held no_such_infant", "rejected discarded: not to be used"], await bed.OutcomesAsync(id));
        Assert.Contains(await CountsAsync(bed, bulk), c => c.StartsWith(
            "1 not_done held The row was changed after it was chosen: corrected by Coordinator", StringComparison.Ordinal));

        // Chosen anew it is decided.
        var again = await ChooseAsync(bed, person.Id, new(null));
        await DecideAsync(bed, new() { Id = again, Kind = RowChangeKind.Discarded, DecidedBy = person.Id });
        Assert.Equal(["1 done rejected"], await CountsAsync(bed, again));
    }

    [Fact]
    public async Task A_row_that_fails_says_so_and_stops_neither_the_others_nor_the_next_bulk()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = (await bed.AddPersonAsync(Role.Coordinator)).Id;
        var id = await bed.SendAsync(Header + Screens(3, "te-oae"));
        var bulk = await ChooseAsync(bed, by, new(null));
        await bed.ListAsync("update submission_rows set content = content || '{\"retired_column\": \"SECRET\"}' where row_number = 2");
        await DecideAsync(bed,
            new() { Id = bulk, Kind = RowChangeKind.Corrected, DecidedBy = by, Field = "method", FromValue = "te-oae", ToValue = "teoae" });
        var counts = await CountsAsync(bed, bulk);
        Assert.Equal("2 done held", counts[0]);
        Assert.StartsWith("1 not_done rejected could not be done, by an error of the program", counts[1], StringComparison.Ordinal);
        Assert.DoesNotContain("SECRET", counts[1], StringComparison.Ordinal);
        Assert.Equal("held no_such_infant", (await bed.OutcomesAsync(id))[2]);
    }

    [Fact]
    public async Task A_submission_that_fails_is_counted_and_stops_nothing_else()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = (await bed.AddPersonAsync(Role.Coordinator)).Id;
        var poison = (await bed.ReceiveAsync(Header + Births(1), at: bed.Now.AddDays(-1))).Id;
        await bed.App.AsOwnerAsync($"update submissions set format = 'papyrus' where id = '{poison}'");
        await bed.ReceiveAsync(Header + Births(2) + Screens(3, "teoae"));
        Assert.Equal(new Swept(1, 0, 1), await Get<SweepSubmissions>(bed).RunAsync(IntakeBed.Ct));
        Assert.Equal(2, await bed.CountAsync("infants"));

        var undecided = await ChooseAsync(bed, by, new(null));
        var bulk = await ChooseAsync(bed, by, new(null));
        await Get<StartBulkDecision>(bed).DecideAsync(new() { Id = bulk, Kind = RowChangeKind.Discarded, DecidedBy = by }, IntakeBed.Ct);
        var job = await Assert.ThrowsAsync<Registry.Platform.Jobs.PartlyFailedException>(
            () => Get<SweepSubmissions>(bed).RunAsJobAsync(IntakeBed.Ct));
        Assert.Equal("0 submissions finished, 0 waiting rows settled, 1 failed and are tried again: see the log", job.Message);
        Assert.Equal(1, await bed.CountAsync("submission_rows where discarded_at is not null"));

        // What nobody decided is forgotten after a day, with its rows; what was decided stays.
        Assert.Equal(2, await bed.CountAsync("bulk_decisions"));
        await bed.ListAsync("update bulk_decisions set chosen_at = chosen_at - interval '25 hours'");
        await Get<SweepSubmissions>(bed).RunAsync(IntakeBed.Ct);
        Assert.Equal([bulk.ToString()], await bed.ListAsync("select id from bulk_decisions"));
        Assert.Equal(0, await bed.CountAsync($"bulk_rows where bulk_id = '{undecided}'"));
    }

    [Fact]
    public async Task What_could_not_be_undone_can_be_undone_later()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var person = await bed.AddPersonAsync(Role.Coordinator);
        var id = await bed.SendAsync(Header + Births(1).Replace("female", "girl", StringComparison.Ordinal));
        var bulk = await ChooseAsync(bed, person.Id, new(null));
        await DecideAsync(bed, new()
        {
            Id = bulk,
            Kind = RowChangeKind.Corrected,
            DecidedBy = person.Id,
            Field = "sex",
            FromValue = "girl",
            ToValue = "female"
        });
        var test = await bed.SendAsync(Header + Screens(1, "teoae"), bed.Harbour); // rests on the infant the row made
        Assert.True(await Get<StartBulkDecision>(bed).TakeBackAsync(bulk, person.Id, IntakeBed.Ct));
        Assert.False(await Get<StartBulkDecision>(bed).TakeBackAsync(bulk, person.Id, IntakeBed.Ct)); // still to be done
        await Get<DecideInBulk>(bed).RunAsync(bulk, IntakeBed.Ct);
        Assert.StartsWith("1 done accepted Other rows rest on it", (await CountsAsync(bed, bulk))[0], StringComparison.Ordinal);

        await bed.SendAsync(Header.Replace("kind", "kind,action", StringComparison.Ordinal)
            + "screening,retract,A1,,,,right,,,2026-11-02T09:15\n");
        Assert.True(await Get<StartBulkDecision>(bed).TakeBackAsync(bulk, person.Id, IntakeBed.Ct));
        await Get<DecideInBulk>(bed).RunAsync(bulk, IntakeBed.Ct);
        Assert.Equal(["1 taken_back rejected"], await CountsAsync(bed, bulk));
        Assert.False(await Get<StartBulkDecision>(bed).TakeBackAsync(bulk, person.Id, IntakeBed.Ct));
        Assert.Equal(2, (await bed.OutcomesAsync(id)).Count + (await bed.OutcomesAsync(test)).Count);
    }
}
