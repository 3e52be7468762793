using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.HeldRows;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Linkage;

namespace Registry.Tests.Intake.HeldRows;

public sealed class DecideRowTests(TestDatabase database)
{
    private const string Header = "kind," + IntakeBed.Who + ",birth_weight_g,ear,outcome,method,performed_at\n";
    private const string Birth = "birth,A1,C1,2026-11-01,female,,Ada,Marlow,1995-02-03,3100,,,,\n";

    private static DecideRow Decide(IntakeBed bed) => bed.App.Services.GetRequiredService<DecideRow>();

    private static TakeBackDecision TakeBack(IntakeBed bed) => bed.App.Services.GetRequiredService<TakeBackDecision>();

    /// <summary>The refusal as a person reads it.</summary>
    private static string Said(RowRefusal? refusal) => HeldRowWords.Of(refusal!);

    private static async Task<Guid> CoordinatorAsync(IntakeBed bed)
    {
        await using var db = bed.App.OpenDb();
        var person = new Person
        {
            Id = Guid.CreateVersion7(),
            UserName = "c@example",
            Email = "c@example",
            DisplayName = "Cora",
            Role = Role.Coordinator
        };
        db.Users.Add(person);
        await db.SaveChangesAsync(IntakeBed.Ct);
        return person.Id;
    }

    private static async Task<InfantId> OnlyInfantAsync(IntakeBed bed) =>
        new(Guid.Parse((await bed.ListAsync("select id from infants"))[0]));

    [Fact]
    public async Task A_contradicting_test_becomes_a_correction_and_can_be_taken_back()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = new Decider(await CoordinatorAsync(bed));
        await bed.SendAsync(Header + Birth + "screening,A1,,,,,,,,,right,refer,oae,2026-11-02T09:15\n", at: bed.Now.AddDays(-2));
        var id = await bed.SendAsync(Header + "screening,A1,,,,,,,,,right,pass,oae,2026-11-02T09:15\n", at: bed.Now.AddDays(-1));
        var infant = await OnlyInfantAsync(bed);

        Assert.Null((await Decide(bed).MatchAsync(id, 1, infant, by, IntakeBed.Ct)).Refusal);
        Assert.Equal(["accepted"], await bed.OutcomesAsync(id));
        Assert.Equal(["pass"], await bed.ListAsync("select outcome from screenings where superseded_at is null"));
        Assert.Equal(["1 0"], await bed.ListAsync("select concat_ws(' ', accepted, held) from submissions where id = $1", id.Value));
        Assert.NotNull((await Decide(bed).MatchAsync(id, 1, infant, by, IntakeBed.Ct)).Refusal); // settled already

        for (var again = 0; again < 2; again++)
        {
            Assert.Null(await TakeBack(bed).RunAsync(id, 1, by, null, IntakeBed.Ct));
            Assert.Equal(["held contradicts_record"], await bed.OutcomesAsync(id));
            Assert.Equal(["refer"], await bed.ListAsync("select outcome from screenings where superseded_at is null"));
            Assert.Equal(["refer"], await bed.ListAsync("select right_ear from infant_status"));
            Assert.Equal(["0 1"], await bed.ListAsync("select concat_ws(' ', accepted, held) from submissions where id = $1", id.Value));
            if (again == 0) Assert.Null((await Decide(bed).MatchAsync(id, 1, infant, by, IntakeBed.Ct)).Refusal);
        }
    }

    [Fact]
    public async Task A_doubtful_birth_becomes_a_new_infant_and_the_test_that_waited_for_it_follows_by_itself()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = new Decider(await CoordinatorAsync(bed));
        var id = await SendDoubtfulBirthAsync(bed,
            "birth,B1,,2026-11-01,female,,Ada,Marlowe,1995-02-03,3100,,,,\nscreening,B1,,,,,,,,,right,pass,oae,2026-11-02T09:15\n");
        Assert.Equal(["held partial_agreement", "held no_such_infant"], await bed.OutcomesAsync(id));

        Assert.Null((await Decide(bed).MakeNewAsync(id, 1, false, by, IntakeBed.Ct)).Refusal);
        Assert.Equal(["accepted", "accepted"], await bed.OutcomesAsync(id));
        Assert.Equal(2, await bed.CountAsync("infants"));
        // Now the test rests on the infant the decision made.
        Assert.Contains("Other rows rest on it", Said(await TakeBack(bed).RunAsync(id, 1, by, null, IntakeBed.Ct)),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_doubtful_birth_becomes_the_known_infants_and_leaves_it_as_it_was_when_taken_back()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = new Decider(await CoordinatorAsync(bed));
        var id = await SendDoubtfulBirthAsync(bed, "birth,B2,,2026-11-01,female,,Ada,Marlowee,1995-02-03,3100,,,,\n");
        var infant = await OnlyInfantAsync(bed);
        Assert.Null((await Decide(bed).MatchAsync(id, 1, infant, by, IntakeBed.Ct)).Refusal);
        Assert.Equal(["A1 B2 C1"], await IdentifiersAsync(bed, infant));
        Assert.Null(await TakeBack(bed).RunAsync(id, 1, by, null, IntakeBed.Ct));
        Assert.Equal(["A1 C1"], await IdentifiersAsync(bed, infant));
        Assert.Equal(["Marlow"],
            await bed.ListAsync("select mother_family_name from births where infant_id = $1 and superseded_at is null", infant.Value));
    }

    /// <summary>A known birth of one site, then another site's rows about nearly the same.</summary>
    private static async Task<SubmissionId> SendDoubtfulBirthAsync(IntakeBed bed, string rows)
    {
        await bed.SendAsync(Header + Birth);
        return await bed.SendAsync(Header + rows, bed.Hill);
    }

    private static Task<List<string>> IdentifiersAsync(IntakeBed bed, InfantId infant) => bed.ListAsync(
        "select string_agg(value, ' ' order by value) from infant_identifiers where infant_id = $1 and superseded_at is null",
        infant.Value);

    [Fact]
    public async Task A_new_infant_nobody_else_spoke_of_is_taken_back_whole()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = new Decider(await CoordinatorAsync(bed));
        var id = await bed.SendAsync("kind,record_number,birth_date,sex,plurality\nbirth,T1,2026-11-01,female,2\n");
        Assert.Null((await Decide(bed).MakeNewAsync(id, 1, false, by, IntakeBed.Ct)).Refusal);
        Assert.Equal(1, await bed.CountAsync("infant_status"));
        Assert.Null(await TakeBack(bed).RunAsync(id, 1, by, null, IntakeBed.Ct));
        Assert.Equal(0, await bed.CountAsync("infant_status"));
        Assert.Equal(0, await bed.CountAsync("infant_identifiers where superseded_at is null"));
        Assert.Equal(["held birth_order_missing"], await bed.OutcomesAsync(id));
    }

    [Fact]
    public async Task A_discarded_row_stays_readable_and_comes_back_with_undo()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = new Decider(await CoordinatorAsync(bed));
        var id = await bed.SendAsync(Header + "screening,A1,,,,,,,,,right,pass,oae,2026-11-02T09:15\n");
        Assert.Null(await Decide(bed).DiscardAsync(id, 1, by, IntakeBed.Ct));
        Assert.Equal(["rejected discarded: not to be used"], await bed.OutcomesAsync(id));
        await bed.SendAsync(Header + Birth); // a discarded row no longer waits
        Assert.Equal(0, await bed.CountAsync("screenings"));
        Assert.Null(await TakeBack(bed).RunAsync(id, 1, by, null, IntakeBed.Ct));
        Assert.Null(await Decide(bed).AskAgainAsync(id, 1, by, IntakeBed.Ct));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(id));
    }

    [Fact]
    public async Task A_birth_date_is_not_moved_past_what_happened_since()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = new Decider(await CoordinatorAsync(bed));
        await bed.SendAsync(Header + Birth + "screening,A1,,,,,,,,,right,pass,oae,2026-11-02T09:15\n");
        var id = await bed.SendAsync(Header + "birth,A1,,2026-11-05,female,,,,,,,,,\n");
        var decided = await Decide(bed).MatchAsync(id, 1, await OnlyInfantAsync(bed), by, IntakeBed.Ct);
        Assert.Contains("before the birth date", Said(decided.Refusal),
            StringComparison.Ordinal);
        Assert.Equal(["held identifier_contradicted"], await bed.OutcomesAsync(id));
    }

    private static Func<IReadOnlyDictionary<Field, string>, IReadOnlyDictionary<Field, string>?> Set(Field field, string value) =>
        row => new Dictionary<Field, string>(row) { [field] = value };

    [Fact]
    public async Task A_rejected_row_is_corrected_applied_and_taken_back_with_its_history()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = new Decider(await CoordinatorAsync(bed));
        var id = await bed.SendAsync(Header + Birth + "screening,A1,,,,,,,,,right,maybe,oae,2026-11-02T09:15\n");
        Assert.Equal(["1 1"], await bed.ListAsync("select concat_ws(' ', accepted, rejected) from submissions where id = $1", id.Value));

        // What does not pass changes nothing and says every problem.
        var wrong = await Decide(bed).CorrectAsync(id, 2, Set(Field.Method, "otherwise"), by, IntakeBed.Ct);
        Assert.Equal(["outcome", "method"], wrong.Problems.Select(f => f.Field!).Order().Reverse());
        Assert.Contains("already", Said((await Decide(bed).CorrectAsync(id, 2, Set(Field.Method, "oae"), by, IntakeBed.Ct)).Refusal),
            StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("row_changes"));

        for (var again = 0; again < 2; again++)
        {
            Assert.Equal(RowOutcome.Accepted,
                (await Decide(bed).CorrectAsync(id, 2, Set(Field.Outcome, "refer"), by, IntakeBed.Ct)).Outcome);
            Assert.Equal(["accepted", "accepted"], await bed.OutcomesAsync(id));
            Assert.Equal(["refer"], await bed.ListAsync("select outcome from screenings where superseded_at is null"));
            Assert.Equal(["2 0"],
                await bed.ListAsync("select concat_ws(' ', accepted, rejected) from submissions where id = $1", id.Value));
            Assert.Null(await TakeBack(bed).RunAsync(id, 2, by, null, IntakeBed.Ct));
            Assert.Equal("rejected outcome: unknown code; it is one of: pass, refer, no_valid_result, not_performed",
                (await bed.OutcomesAsync(id))[1]);
            Assert.Equal(["1 1"],
                await bed.ListAsync("select concat_ws(' ', accepted, rejected) from submissions where id = $1", id.Value));
            Assert.Equal(0, await bed.CountAsync("screenings where superseded_at is null"));
        }

        // What was sent stays: in the history, and byte for byte in the submission.
        var changes = await bed.App.Services.GetRequiredService<ReadRowChanges>().RunAsync(
            id, 2, (await bed.ContentsAsync($"submission_rows where submission_id = '{id}' and row_number = 2"))[0], IntakeBed.Ct);
        Assert.Equal([RowChangeKind.Corrected, RowChangeKind.TakenBack, RowChangeKind.Corrected, RowChangeKind.TakenBack],
            changes.Select(c => c.Kind));
        Assert.Equal([(Field.Outcome, "maybe", "refer")], changes[0].Fields);
        Assert.Equal("Cora", changes[0].Person);
        Assert.Contains("There is no decision", Said(await TakeBack(bed).RunAsync(id, 2, by, null, IntakeBed.Ct)),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_held_row_is_corrected_and_waits_under_what_it_says_now()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = new Decider(await CoordinatorAsync(bed));
        var id = await bed.SendAsync(Header + "screening,A9,,,,,,,,,right,pass,oae,2026-11-02T09:15\n");
        var held = await Decide(bed).CorrectAsync(id, 1, Set(Field.RecordNumber, "A1"), by, IntakeBed.Ct);
        Assert.Equal((RowOutcome.Held, HoldReason.NoSuchInfant), (held.Outcome, held.Hold!.Value));
        Assert.Equal(["A1"], await bed.ListAsync("select record_number from held_rows"));
        await bed.SendAsync(Header + Birth);
        Assert.Equal(["accepted"], await bed.OutcomesAsync(id));

        // It settled itself since; the correction can still be taken back, and the row waits as it was sent.
        Assert.Contains("it settled itself", Said(await Decide(bed).DiscardAsync(id, 1, by, IntakeBed.Ct)), StringComparison.Ordinal);
        Assert.Null(await TakeBack(bed).RunAsync(id, 1, by, null, IntakeBed.Ct));
        Assert.Equal(["held no_such_infant"], await bed.OutcomesAsync(id));
        Assert.Equal(["A9"], await bed.ListAsync("select record_number from held_rows where resolution is null"));
        Assert.Equal(0, await bed.CountAsync("screenings where superseded_at is null"));
    }

    [Fact]
    public async Task A_rejected_row_that_becomes_clear_but_not_certain_is_held_and_is_rejected_again_by_undo()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = new Decider(await CoordinatorAsync(bed));
        var id = await bed.SendAsync(Header + "screening,A9,,,,,,,,,right,perhaps,oae,2026-11-02T09:15\n");
        Assert.Equal(RowOutcome.Held, (await Decide(bed).CorrectAsync(id, 1, Set(Field.Outcome, "pass"), by, IntakeBed.Ct)).Outcome);
        Assert.Equal(["held no_such_infant"], await bed.OutcomesAsync(id));
        Assert.Equal(["0 1"], await bed.ListAsync("select concat_ws(' ', rejected, held) from submissions"));
        Assert.Null(await TakeBack(bed).RunAsync(id, 1, by, null, IntakeBed.Ct));
        Assert.Equal(0, await bed.CountAsync("held_rows"));
        Assert.Equal(["1 0"], await bed.ListAsync("select concat_ws(' ', rejected, held) from submissions"));

        Assert.Null(await Decide(bed).DiscardAsync(id, 1, by, IntakeBed.Ct));
        Assert.EndsWith("; discarded: not to be used", (await bed.OutcomesAsync(id))[0], StringComparison.Ordinal);
        Assert.Contains("discarded by Cora", Said(await Decide(bed).AskAgainAsync(id, 1, by, IntakeBed.Ct)), StringComparison.Ordinal);
        Assert.Null(await TakeBack(bed).RunAsync(id, 1, by, null, IntakeBed.Ct));
        Assert.StartsWith("Still rejected. Outcome: is none of these: Pass", Said(await Decide(bed).AskAgainAsync(id, 1, by, IntakeBed.Ct)),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task Whoever_looked_before_another_decided_is_told_and_changes_nothing()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var cora = new Decider(await CoordinatorAsync(bed));
        var id = await bed.SendAsync(Header + "screening,A9,,,,,,,,,right,pass,oae,2026-11-02T09:15\n");
        await Decide(bed).CorrectAsync(id, 1, Set(Field.Outcome, "refer"), cora, IntakeBed.Ct);
        var late = await Decide(bed).CorrectAsync(id, 1, Set(Field.Ear, "left"), cora with { Seen = 0 }, IntakeBed.Ct);
        Assert.Contains("changed after you opened it: corrected by Cora", Said(late.Refusal), StringComparison.Ordinal);
        Assert.Equal(["refer right"], await bed.StatedAsync(Field.Outcome, Field.Ear));

        // Two at the same moment: one of them decides.
        var both = await Task.WhenAll(Decide(bed).DiscardAsync(id, 1, cora, IntakeBed.Ct), Decide(bed)
            .DiscardAsync(id, 1, cora, IntakeBed.Ct));
        Assert.Single(both, answer => answer is null);
        Assert.Equal(["1 0"], await bed.ListAsync("select concat_ws(' ', rejected, held) from submissions"));
    }

    [Fact]
    public async Task The_history_of_a_row_is_append_only()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = new Decider(await CoordinatorAsync(bed));
        var id = await bed.SendAsync(Header + "screening,A9,,,,,,,,,right,pass,oae,2026-11-02T09:15\n");
        await Decide(bed).DiscardAsync(id, 1, by, IntakeBed.Ct);
        foreach (var sql in new[] { "delete from row_changes", "update row_changes set kind = 'matched'", "truncate row_changes" })
            Assert.Equal("23000", (await Assert.ThrowsAsync<Npgsql.PostgresException>(() => bed.App.AsOwnerAsync(sql))).SqlState);
    }

    [Fact]
    public async Task A_row_held_again_by_a_correction_settles_by_itself_again()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = new Decider(await CoordinatorAsync(bed));
        var id = await bed.SendAsync(Header + "screening,A9,,,,,,,,,right,pass,oae,2026-11-02T09:15\n");
        // a test before the birth: rejected by itself
        await bed.SendAsync(Header + "birth,A9,,2026-11-05,female,,Bea,Quist,1990-08-30,,,,,\n");
        Assert.StartsWith("rejected performed_at: is before the birth", (await bed.OutcomesAsync(id))[0], StringComparison.Ordinal);
        Assert.Equal(RowOutcome.Held, (await Decide(bed).CorrectAsync(id, 1, Set(Field.RecordNumber, "A1"), by, IntakeBed.Ct)).Outcome);
        Assert.Equal(["held no_such_infant"], await bed.OutcomesAsync(id));
        await bed.SendAsync(Header + Birth);
        Assert.Equal(["accepted"], await bed.OutcomesAsync(id));
    }

    [Fact]
    public async Task An_undo_waits_for_whoever_writes_about_its_infant_and_sees_it()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = new Decider(await CoordinatorAsync(bed));
        var id = await bed.SendAsync("kind,record_number,birth_date,sex,plurality\nbirth,T1,2026-11-01,female,2\n");
        Assert.Null((await Decide(bed).MakeNewAsync(id, 1, false, by, IntakeBed.Ct)).Refusal);
        await using var other = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);
        await using var writing = await other.BeginTransactionAsync(IntakeBed.Ct);
        await using (var take = new Npgsql.NpgsqlCommand("select from infants for no key update", other)) await take.ExecuteNonQueryAsync(
            IntakeBed.Ct);
        var takeBack = TakeBack(bed).RunAsync(id, 1, by, null, IntakeBed.Ct);
        await Eventually.HoldsAsync(async () => takeBack.IsCompleted
            || await bed.CountAsync("pg_stat_activity where datname = current_database() and wait_event_type = 'Lock'") > 0);
        Assert.False(takeBack.IsCompleted);
        await using (var add = new Npgsql.NpgsqlCommand(
            """
            insert into infant_identifiers select (jsonb_populate_record(i, jsonb_build_object('id', gen_random_uuid(), 'value', 'T9', 'row_number', 99))).*
              from infant_identifiers i
            """, other)) await add.ExecuteNonQueryAsync(IntakeBed.Ct);
        await writing.CommitAsync(IntakeBed.Ct);
        Assert.Equal(WhyRefused.OthersRestOnIt, (await takeBack)!.Why);
        Assert.Equal(["accepted"], await bed.OutcomesAsync(id));
    }

    [Fact]
    public async Task A_held_row_that_passes_its_checks_no_more_is_rejected_and_stops_no_other()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = new Decider(await CoordinatorAsync(bed));
        const string transfer = "kind,record_number,ear,outcome,method,performed_at,to_site,transferred_on\ntransfer,A1,,,,,hill,2026-11-03\nscreening,A1,right,pass,oae,2026-11-02T09:15,,\n";
        var id = await bed.SendAsync(transfer);
        Assert.Equal(["held no_such_infant", "held no_such_infant"], await bed.OutcomesAsync(id));
        await bed.ListAsync("update sites set code = 'hill-north' where code = 'hill'");
        var held = (await bed.App.Services.GetRequiredService<ReadWaitingRow>().RunAsync(id, 1, IntakeBed.Ct))!;
        var (infants, problems) = await bed.App.Services.GetRequiredService<FindCandidates>().ForRowAsync(held.Content, null, IntakeBed.Ct);
        Assert.Empty(infants);
        Assert.Equal("to_site", problems.Single().Field);

        await bed.SendAsync(Header + Birth);
        var outcomes = await bed.OutcomesAsync(id);
        Assert.StartsWith("rejected to_site: ", outcomes[0], StringComparison.Ordinal);
        Assert.Equal("accepted", outcomes[1]);
        Assert.Equal(["1 0 1"],
            await bed.ListAsync("select concat_ws(' ', accepted, held, rejected) from submissions where id = $1", id.Value));
        Assert.Equal(RowOutcome.Accepted,
            (await Decide(bed).CorrectAsync(id, 1, Set(Field.ToSite, "hill-north"), by, IntakeBed.Ct)).Outcome);
    }
}
