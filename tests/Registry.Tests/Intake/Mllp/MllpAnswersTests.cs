using System.Text;
using Registry.Tests.Intake.Formats.Hl7V2;
using Registry.Tests.Intake.Receiving;
using static Registry.Tests.Intake.Mllp.MllpTests;

namespace Registry.Tests.Intake.Mllp;

/// <summary>What an MLLP connection answers: batches, other character sets, and nothing where nothing is known.</summary>
public sealed class MllpAnswersTests(TestDatabase database)
{
    [Fact]
    public async Task A_file_of_batches_is_taken_in_and_answered_by_one()
    {
        await using var bed = await StartAsync(database);
        using var client = await ConnectAsync(bed);
        var ack = await AskAsync(client.GetStream(), "FHS|^~\\&|WARD|HARBOUR|REGISTRY|LINDMERE|20261121||||F-1\rBHS|^~\\&|WARD|HARBOUR|REGISTRY|LINDMERE|20261121||||B-1\r"
            + Messages.Admission() + Messages.Results() + "BTS|2\rFTS|1\r");
        Assert.Equal(["FHS", "BHS", "MSH", "MSA|AA|A-1", "MSH", "MSA|AA|R-1", "BTS|2", "FTS|1"],
            AcknowledgementTests.Lines(ack).Select(l => l.StartsWith("MSA", StringComparison.Ordinal) || l[1] == 'T' ? l : l[..3]));
        Assert.Equal((1, 1, 2), (await bed.CountAsync("submissions"), await bed.CountAsync("infants"), await bed.CountAsync("screenings")));
    }

    [Fact]
    public async Task A_message_in_Latin_1_is_answered_in_Latin_1()
    {
        await using var bed = await StartAsync(database);
        using var client = await ConnectAsync(bed);
        var message = Messages.Admission(version: "2.5.1||||||8859/1", control: "Ø-7")
            .Replace("Marlow^Ada", "Bjørk^Ása", StringComparison.Ordinal);
        var ack = await AskAsync(client.GetStream(), message, Encoding.Latin1);
        Assert.Contains("\rMSA|AA|Ø-7\r", ack, StringComparison.Ordinal);
        Assert.EndsWith("|2.5.1||||||8859/1", AcknowledgementTests.Lines(ack)[0], StringComparison.Ordinal);
        Assert.Equal(["Ása Bjørk"], await bed.ListAsync("select concat_ws(' ', mother_given_name, mother_family_name) from births"));
    }

    [Fact]
    public async Task What_is_kept_but_not_worked_through_has_no_answer_until_it_is_sent_again()
    {
        await using var bed = await StartAsync(database);
        await ExecuteAsync("alter table submission_rows rename to away");
        using (var client = await ConnectAsync(bed))
            await Assert.ThrowsAnyAsync<IOException>(() => AskAsync(client.GetStream(), Messages.Admission()));
        Assert.Equal((1, 0), (await bed.CountAsync("submissions where state <> 'done'"), await bed.CountAsync("infants")));
        await ExecuteAsync("alter table away rename to submission_rows");
        using (var client = await ConnectAsync(bed))
            Assert.Equal("AA", AcknowledgementTests.Code(await AskAsync(client.GetStream(), Messages.Admission())));
        Assert.Equal((1, 1), (await bed.CountAsync("submissions where state = 'done'"), await bed.CountAsync("infants")));

        Task ExecuteAsync(string sql) => bed.App.AsOwnerAsync(sql);
    }
}
