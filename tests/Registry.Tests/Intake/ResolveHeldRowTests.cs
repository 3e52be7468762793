using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Intake;
using Registry.Records;

namespace Registry.Tests.Intake;

public sealed class ResolveHeldRowTests(TestDatabase database)
{
    private const string Header = "kind," + IntakeBed.Who + ",birth_weight_g,ear,outcome,method,performed_at\n";
    private const string Birth = "birth,A1,C1,2026-11-01,female,,Ada,Marlow,1995-02-03,3100,,,,\n";

    private static ResolveHeldRow Resolve(IntakeBed bed) => bed.App.Services.GetRequiredService<ResolveHeldRow>();

    private static async Task<Guid> CoordinatorAsync(IntakeBed bed)
    {
        await using var db = bed.App.OpenDb();
        var person = new Person { Id = Guid.CreateVersion7(), UserName = "c@example", Email = "c@example", DisplayName = "Cora", Role = Role.Coordinator };
        db.Users.Add(person);
        await db.SaveChangesAsync(IntakeBed.Ct);
        return person.Id;
    }

    private static async Task<InfantId> OnlyInfantAsync(IntakeBed bed) => new(Guid.Parse((await bed.ListAsync("select id from infants"))[0]));

    [Fact]
    public async Task A_contradicting_test_becomes_a_correction_and_can_be_taken_back()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = await CoordinatorAsync(bed);
        await bed.SendAsync(Header + Birth + "screening,A1,,,,,,,,,right,refer,oae,2026-11-02T09:15\n", at: bed.Now.AddDays(-2));
        var id = await bed.SendAsync(Header + "screening,A1,,,,,,,,,right,pass,oae,2026-11-02T09:15\n", at: bed.Now.AddDays(-1));
        var infant = await OnlyInfantAsync(bed);

        Assert.Null(await Resolve(bed).ApplyAsync(id, 1, infant, by, IntakeBed.Ct));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(id));
        Assert.Equal(["pass"], await bed.ListAsync("select outcome from screenings where superseded_at is null"));
        Assert.Equal(["1 0"], await bed.ListAsync("select concat_ws(' ', accepted, held) from submissions where id = $1", id.Value));
        Assert.NotNull(await Resolve(bed).ApplyAsync(id, 1, infant, by, IntakeBed.Ct)); // settled already

        for (var again = 0; again < 2; again++)
        {
            Assert.Null(await Resolve(bed).UndoAsync(id, 1, IntakeBed.Ct));
            Assert.Equal(["held contradicts_record"], await bed.OutcomesAsync(id));
            Assert.Equal(["refer"], await bed.ListAsync("select outcome from screenings where superseded_at is null"));
            Assert.Equal(["refer"], await bed.ListAsync("select right_ear from infant_status"));
            Assert.Equal(["0 1"], await bed.ListAsync("select concat_ws(' ', accepted, held) from submissions where id = $1", id.Value));
            if (again == 0) Assert.Null(await Resolve(bed).ApplyAsync(id, 1, infant, by, IntakeBed.Ct));
        }
    }

    [Fact]
    public async Task A_doubtful_birth_becomes_a_new_infant_or_the_known_one()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = await CoordinatorAsync(bed);
        await bed.SendAsync(Header + Birth);
        var infant = await OnlyInfantAsync(bed);
        var id = await bed.SendAsync(Header + "birth,B1,,2026-11-01,female,,Ada,Marlowe,1995-02-03,3100,,,,\nscreening,B1,,,,,,,,,right,pass,oae,2026-11-02T09:15\n", bed.Hill);
        Assert.Equal(["held partial_agreement", "held no_such_infant"], await bed.OutcomesAsync(id));

        Assert.Null(await Resolve(bed).ApplyAsync(id, 1, null, by, IntakeBed.Ct));
        // The test that waited for the birth followed by itself.
        Assert.Equal(["accepted", "accepted"], await bed.OutcomesAsync(id));
        Assert.Equal(2, await bed.CountAsync("infants"));
        // Now the test rests on the infant the decision made.
        Assert.Contains("Other rows rest on it", await Resolve(bed).UndoAsync(id, 1, IntakeBed.Ct), StringComparison.Ordinal);

        id = await bed.SendAsync(Header + "birth,B2,,2026-11-01,female,,Ada,Marlowee,1995-02-03,3100,,,,\n", bed.Hill);
        Assert.Null(await Resolve(bed).ApplyAsync(id, 1, infant, by, IntakeBed.Ct));
        Assert.Equal(["A1 B2 C1"], await bed.ListAsync("select string_agg(value, ' ' order by value) from infant_identifiers where infant_id = $1 and superseded_at is null", infant.Value));
        Assert.Null(await Resolve(bed).UndoAsync(id, 1, IntakeBed.Ct));
        Assert.Equal(["A1 C1"], await bed.ListAsync("select string_agg(value, ' ' order by value) from infant_identifiers where infant_id = $1 and superseded_at is null", infant.Value));
        Assert.Equal(["Marlow"], await bed.ListAsync("select mother_family_name from births where infant_id = $1 and superseded_at is null", infant.Value));
    }

    [Fact]
    public async Task A_new_infant_nobody_else_spoke_of_is_taken_back_whole()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = await CoordinatorAsync(bed);
        var id = await bed.SendAsync("kind,record_number,birth_date,sex,plurality\nbirth,T1,2026-11-01,female,2\n");
        Assert.Null(await Resolve(bed).ApplyAsync(id, 1, null, by, IntakeBed.Ct));
        Assert.Equal(1, await bed.CountAsync("infant_status"));
        Assert.Null(await Resolve(bed).UndoAsync(id, 1, IntakeBed.Ct));
        Assert.Equal(0, await bed.CountAsync("infant_status"));
        Assert.Equal(0, await bed.CountAsync("infant_identifiers where superseded_at is null"));
        Assert.Equal(["held birth_order_missing"], await bed.OutcomesAsync(id));
    }

    [Fact]
    public async Task A_discarded_row_stays_readable_and_comes_back_with_undo()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = await CoordinatorAsync(bed);
        var id = await bed.SendAsync(Header + "screening,A1,,,,,,,,,right,pass,oae,2026-11-02T09:15\n");
        Assert.Null(await Resolve(bed).DiscardAsync(id, 1, by, IntakeBed.Ct));
        Assert.Equal(["rejected discarded by a coordinator"], await bed.OutcomesAsync(id));
        await bed.SendAsync(Header + Birth); // a discarded row no longer waits
        Assert.Equal(0, await bed.CountAsync("screenings"));
        Assert.Null(await Resolve(bed).UndoAsync(id, 1, IntakeBed.Ct));
        Assert.Null(await Resolve(bed).RetryAsync(id, 1, by, IntakeBed.Ct));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(id));
    }

    [Fact]
    public async Task A_birth_date_is_not_moved_past_what_happened_since()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = await CoordinatorAsync(bed);
        await bed.SendAsync(Header + Birth + "screening,A1,,,,,,,,,right,pass,oae,2026-11-02T09:15\n");
        var id = await bed.SendAsync(Header + "birth,A1,,2026-11-05,female,,,,,,,,,\n");
        Assert.Contains("before the birth date", await Resolve(bed).ApplyAsync(id, 1, await OnlyInfantAsync(bed), by, IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Equal(["held identifier_contradicted"], await bed.OutcomesAsync(id));
    }
}
