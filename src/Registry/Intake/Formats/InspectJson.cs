using Registry.Records;

namespace Registry.Intake.Formats;

/// <summary>Is the JSON well-formed, of the expected shape, and how many rows has it.</summary>
public sealed class InspectJson(SubmissionFormat format) : InspectSubmission
{
    private readonly JsonRows _rows = new(format, null);

    public override void Feed(ReadOnlySpan<byte> bytes)
    {
        while (!bytes.IsEmpty && Problems.Count == 0)
        {
            var free = _rows.Free().Span;
            var length = Math.Min(free.Length, bytes.Length);
            bytes[..length].CopyTo(free);
            _rows.Filled(length);
            bytes = bytes[length..];
            Read(final: false);
        }
    }

    public override void End()
    {
        if (Problems.Count > 0) return;
        Read(final: true);
        if (RowCount == 0 && Problems.Count == 0) Add(0, "rows", "there are no rows");
    }

    private void Read(bool final)
    {
        try
        {
            _rows.Read(final, batch: null);
            RowCount = _rows.Count;
        }
        catch (MalformedJsonException problem)
        {
            Add(problem.Row, problem.Field, problem.Message);
        }
    }
}
