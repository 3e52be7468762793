using Registry.Intake.Rows;

namespace Registry.Intake.Formats.Hl7V2;

/// <summary>The rows of HL7 v2 messages, message by message.</summary>
public sealed class ReadHl7V2Rows(Stream bytes, TimeZoneInfo zone) : RowReader
{
    private readonly SplitMessages _split = new();
    private readonly MapMessage _map = new(zone);
    private int _number, _row, _line;
    private bool _final;

    public override async ValueTask<bool> FillAsync(RowBatch batch, CancellationToken ct)
    {
        batch.Clear();
        while (!batch.IsFull)
        {
            if (_row < _map.Rows.Count)
            {
                _map.Rows.CopyTo(batch, _row, ++_number, _line + _map.Rows.AnchorOf(_row).Segment);
                _row++;
            }
            else if (_split.Next(_final, out var part))
            {
                if (part.Kind != PartKind.Message) continue;
                _map.Read(part.Bytes.Span);
                (_row, _line) = (0, part.Line);
            }
            else if (_final || _split.Problem is not null)
            {
                break;
            }
            else
            {
                var read = await bytes.ReadAsync(_split.Free(), ct);
                _split.Filled(read);
                _final = read == 0;
            }
        }

        return batch.Count > 0;
    }

    public override void Dispose() => bytes.Dispose();
}

/// <summary>Are the bytes whole messages, and how many rows do they make.</summary>
public sealed class InspectHl7V2 : InspectSubmission
{
    private readonly SplitMessages _split = new();
    private readonly MapMessage _map = new(TimeZoneInfo.Utc);

    /// <summary>Each message says in its MSH-18 how it is encoded.</summary>
    public override bool IsUtf8 => false;

    public override void Feed(ReadOnlySpan<byte> bytes)
    {
        while (!bytes.IsEmpty && Problems.Count == 0)
        {
            var free = _split.Free().Span;
            var length = Math.Min(free.Length, bytes.Length);
            bytes[..length].CopyTo(free);
            _split.Filled(length);
            bytes = bytes[length..];
            Read(final: false);
        }
    }

    public override void End()
    {
        if (Problems.Count == 0) Read(final: true);
    }

    private void Read(bool final)
    {
        while (_split.Next(final, out var part))
        {
            if (part.Kind != PartKind.Message) continue;
            _map.Read(part.Bytes.Span);
            RowCount += _map.Rows.Count;
        }

        if (_split.Problem is { } problem) Add(problem.Row, problem.Field, problem.Reason);
    }
}
