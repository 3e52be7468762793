using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.Applying;
using Registry.Intake.HeldRows;
using Registry.Records;

namespace Registry.Tests.Intake.Applying;

/// <summary>A row applied since only details fitted one infant waits again when another comes that fits as well, and says so.</summary>
public sealed class LeaningRowsTests(TestDatabase database)
{
    private const string Who = "kind," + IntakeBed.Who + ",ear,outcome,method,performed_at\n";
    private const string Ada = "birth,A1,,2026-11-01,female,,Ada,Marlow,1995-02-03,,,,\n";
    private const string Other = "birth,B1,,2026-11-01,female,,,Marlow,,,,,\n";
    private const string Test = "screening,,,2026-11-01,female,,Ada,Marlow,,right,refer,aabr,2026-11-10T09:15\n";

    private static async Task<SubmissionId> MakeNewAsync(IntakeBed bed, string birth)
    {
        var by = (await bed.AddPersonAsync(Role.Coordinator)).Id;
        var id = await bed.SendAsync(Who + birth);
        if ((await bed.OutcomesAsync(id))[0].StartsWith("held", StringComparison.Ordinal))
            Assert.Null((await bed.App.Services.GetRequiredService<DecideRow>().MakeNewAsync(id, 1, true, new(by), IntakeBed.Ct)).Refusal);
        return id;
    }

    [Fact]
    public async Task It_waits_again_and_says_why_and_its_facts_are_withdrawn_readably()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Who + Ada);
        var test = await bed.SendAsync(Who + Test, bed.Hill);
        Assert.Equal(["accepted"], await bed.OutcomesAsync(test));
        Assert.Equal(1, await bed.CountAsync("held_rows where leans_on is not null and resolution = 'applied'"));

        await MakeNewAsync(bed, Other);
        Assert.Equal([$"held several_candidates {ReopenLeaningRows.Reason}"], await bed.OutcomesAsync(test));
        Assert.Equal(["0 1"], await bed.ListAsync("select concat_ws(' ', accepted, held) from submissions where id = $1", test.Value));
        Assert.Equal(0, await bed.CountAsync("screenings where superseded_at is null"));
        Assert.Equal(1, await bed.CountAsync("screenings where superseded_at is not null and outcome = 'refer'"));
        Assert.Equal(["not_screened not_screened"], await bed.ListAsync("select string_agg(screening, ' ') from infant_status"));

        // Sent again every night it waits once.
        Assert.Equal(["still_waiting"], await bed.OutcomesAsync(await bed.SendAsync(Who + Test, bed.Hill)));
    }

    [Fact]
    public async Task What_followed_its_number_goes_with_it_and_comes_back_with_it()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Who + Ada);
        var first = await bed.SendAsync(Who + Test.Replace("screening,", "screening,H7", StringComparison.Ordinal), bed.Hill);
        var then = await bed.SendAsync(Who + "screening,H7,,,,,,,,left,pass,aabr,2026-11-10T09:20\n", bed.Hill);
        Assert.Equal(["accepted"], await bed.OutcomesAsync(then));
        await MakeNewAsync(bed, Other);
        Assert.StartsWith("held several_candidates", (await bed.OutcomesAsync(first))[0], StringComparison.Ordinal);
        Assert.StartsWith("held no_such_infant", (await bed.OutcomesAsync(then))[0], StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("infant_identifiers where value = 'H7' and superseded_at is null"));

        // The other birth is told to be another mother's: the row fits one infant again, and both are applied by themselves.
        await bed.SendAsync(Who.Replace("kind,", "kind,action,", StringComparison.Ordinal)
            + Other.Replace("birth,", "birth,correct,", StringComparison.Ordinal)
                .Replace(",,Marlow,,", ",Bea,Marlow,1990-08-30,", StringComparison.Ordinal));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(first));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(then));
    }

    [Fact]
    public async Task A_person_who_chose_the_infant_is_not_overruled()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = (await bed.AddPersonAsync(Role.Coordinator)).Id;
        await bed.SendAsync(Who + Ada);
        await MakeNewAsync(bed, Other);
        var test = await bed.SendAsync(Who + Test, bed.Hill);
        var infant = new InfantId(Guid.Parse((await bed.ListAsync("select infant_id from infant_identifiers where value = 'A1'"))[0]));
        Assert.Null((await bed.App.Services.GetRequiredService<DecideRow>().MatchAsync(test, 1, infant, new(by), IntakeBed.Ct)).Refusal);
        await MakeNewAsync(bed, Other.Replace("B1", "B2", StringComparison.Ordinal));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(test));
    }
}
