using System.Security.Cryptography;
using System.Text;
using Registry.Intake.Raw;
using Registry.Intake.Receiving;
using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Tests.Intake.Receiving;

public sealed class ReceiveSubmissionTests(TestDatabase database)
{
    private const string Sound = "kind,record_number,birth_date,sex\nbirth,1,2026-11-01,female\n";

    [Fact]
    public async Task The_raw_bytes_are_kept_with_their_hash_and_cannot_be_changed()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var text = Sound + string.Concat(Enumerable.Range(2, 20_000).Select(i => $"birth,{i},2026-11-01,female\n"));
        var receipt = await bed.ReceiveAsync(text);
        Assert.Equal(20_001, receipt.RowCount);

        using var raw = new MemoryStream();
        await using (var stream = new SubmissionStream(bed.Source.CreateCommand, receipt.Id,
            Encoding.UTF8.GetByteCount(text))) await stream.CopyToAsync(raw, IntakeBed.Ct);
        Assert.Equal(text, Encoding.UTF8.GetString(raw.ToArray()));
        Assert.Equal(Convert.ToHexStringLower(SHA256.HashData(raw.ToArray())),
            (await bed.ListAsync("select encode(sha256, 'hex') from submissions"))[0]);
        Assert.True(await bed.CountAsync("submission_chunks") > 1);
        await Assert.ThrowsAsync<Npgsql.PostgresException>(() => bed.ListAsync("delete from submission_chunks returning 1"));
    }

    [Fact]
    public async Task A_body_that_breaks_off_leaves_nothing_behind()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await Assert.ThrowsAsync<IOException>(() => bed.Receive.ReceiveAsync(
            bed.Harbour, SubmissionFormat.Csv, null, new BreakingStream(Encoding.UTF8.GetBytes(Sound), 600_000), default, bed.Now,
            ct: IntakeBed.Ct));
        Assert.Equal(0, await bed.CountAsync("submissions"));
        Assert.Equal(0, await bed.CountAsync("submission_chunks"));
    }

    [Fact]
    public async Task A_file_that_cannot_be_read_is_kept_and_refused_and_nothing_of_it_applied()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var receipt = await bed.ReceiveAsync(Sound + "birth,2,2026-11-01\n");
        Assert.Equal(ReceiptKind.Refused, receipt.Kind);
        Assert.Equal([new FileProblem(2, null, "has 3 fields where the header has 4")], receipt.Problems);
        Assert.True(await bed.Process.RunAsync(receipt.Id.Value, IntakeBed.Ct));
        Assert.Equal(["refused 0"], await bed.ListAsync("select concat_ws(' ', state, row_count) from submissions"));
        Assert.Equal(1, await bed.CountAsync("submission_chunks"));
        Assert.Equal(0, await bed.CountAsync("infants"));
    }

    [Fact]
    public async Task A_character_cut_by_a_piece_of_the_body_is_read_whole()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        foreach (var letter in new[] { "é", "€", "𝄞" })
        {
            for (var offset = 0; offset < 4; offset++)
            {
                // Pieces are 256 KiB; the letter straddles the end of the first.
                var filler = new string('x', 60_000);
                var text = "kind,record_number,died_on,mother_given_name\n" + string.Concat(
                    Enumerable.Repeat($"death,1,2026-11-01,{filler}\n", 4));
                text += "death,1,2026-11-01," + new string('y', 262_144 - offset - Encoding.UTF8.GetByteCount(text) - 19) + letter + "\n";
                Assert.Equal(ReceiptKind.Received, (await bed.ReceiveAsync(text)).Kind);
            }
        }
    }

    [Fact]
    public async Task A_key_repeats_its_submission_and_no_other()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var first = await bed.ReceiveAsync(Sound, key: "k1");
        var again = await bed.ReceiveAsync(Sound, key: "k1");
        Assert.Equal((ReceiptKind.Repeated, first.Id), (again.Kind, again.Id));
        Assert.Equal(ReceiptKind.KeyReused, (await bed.ReceiveAsync(Sound + "birth,2,2026-11-01,male\n", key: "k1")).Kind);
        Assert.Equal(ReceiptKind.Received, (await bed.ReceiveAsync(Sound, bed.Hill, key: "k1")).Kind);
        Assert.Equal(2, await bed.CountAsync("submissions"));
    }

    [Fact]
    public async Task A_key_whose_first_request_still_runs_is_in_use()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var gate = new TaskCompletionSource();
        var slow = bed.Receive.ReceiveAsync(
            bed.Harbour, SubmissionFormat.Csv, null, new GatedStream(Encoding.UTF8.GetBytes(Sound), gate.Task), default, bed.Now, null,
            "k1", IntakeBed.Ct);
        await Eventually.HoldsAsync(async () => await bed.CountAsync(
            "pg_locks where locktype = 'advisory' and database = (select oid from pg_database where datname = current_database())") > 0);
        Assert.Equal(ReceiptKind.KeyInUse, (await bed.ReceiveAsync(Sound, key: "k1")).Kind);
        gate.SetResult();
        Assert.Equal(ReceiptKind.Received, (await slow).Kind);
    }

    [Fact]
    public async Task Larger_than_allowed_is_not_stored()
    {
        await using var bed = await IntakeBed.StartAsync(
            database, new Dictionary<string, string?> { ["Intake:MaxBytes"] = "1000", ["Intake:MaxRows"] = "2" });
        Assert.Equal(ReceiptKind.TooLarge, (await bed.ReceiveAsync(Sound + new string('x', 1_000))).Kind);
        Assert.Equal(0, await bed.CountAsync("submission_chunks"));
        var receipt = await bed.ReceiveAsync(Sound + "birth,2,2026-11-01,male\nbirth,3,2026-11-01,male\n");
        Assert.Equal("the file has 3 rows; send at most 2 at once", receipt.Problems.Single().Reason);
    }

    /// <summary>Repeats its last row, then breaks off like a lost connection.</summary>
    private sealed class BreakingStream(byte[] bytes, int after) : MemoryStream(bytes)
    {
        private int _given;

        public override ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default)
        {
            if (_given >= after) throw new IOException("The connection was lost.");
            var length = Math.Min(buffer.Length, 1_000);
            buffer.Span[..length].Fill((byte)'x');
            _given += length;
            return ValueTask.FromResult(length);
        }
    }

    private sealed class GatedStream(byte[] bytes, Task gate) : MemoryStream(bytes)
    {
        public override async ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default)
        {
            await gate.WaitAsync(cancellationToken);
            return await base.ReadAsync(buffer, cancellationToken);
        }
    }
}
