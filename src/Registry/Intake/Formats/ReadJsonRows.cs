using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Intake.Formats;

/// <summary>JSON <c>{"rows":[{…},…]}</c>, or one JSON object after another (<c>application/x-ndjson</c>).</summary>
public sealed class ReadJsonRows(Stream bytes, SubmissionFormat format, RowKind? defaultKind) : RowReader
{
    private readonly JsonRows _rows = new(format, defaultKind);
    private bool _ended;

    public override async ValueTask<bool> FillAsync(RowBatch batch, CancellationToken ct)
    {
        batch.Clear();
        while (true)
        {
            _rows.Read(_ended, batch);
            if ((batch.IsFull && !_rows.IsInRow) || _ended) return batch.Count > 0;
            var read = await bytes.ReadAsync(_rows.Free(), ct);
            _rows.Filled(read);
            _ended = read == 0;
        }
    }

    public override void Dispose() => bytes.Dispose();
}
