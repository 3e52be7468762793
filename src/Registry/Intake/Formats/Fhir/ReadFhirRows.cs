using System.Buffers;
using Registry.Intake.Rows;

namespace Registry.Intake.Formats.Fhir;

/// <summary>A Bundle is read whole: it is small (<see cref="ParseBundle.MaxBytes"/>), and its entries refer to one another.</summary>
public sealed class ReadFhirRows(TranslatedBundle bundle) : RowReader
{
    private int _next;

    public override bool AllOrNothing => bundle.AllOrNothing;

    public static async Task<RowReader> OpenAsync(Stream bytes, TimeZoneInfo zone, KnownPatients patients, CancellationToken ct)
    {
        await using (bytes)
        {
            using var whole = new MemoryStream();
            await bytes.CopyToAsync(whole, ct);
            return new ReadFhirRows(
                await TranslateAsync(ParseBundle.Read(whole.GetBuffer().AsSpan(0, (int)whole.Length)), zone, patients, ct));
        }
    }

    /// <summary>The rows of a Bundle without fatal problems, with the infants it names by the registry's ids.</summary>
    public static async Task<TranslatedBundle> TranslateAsync(ParsedBundle parsed, TimeZoneInfo zone, KnownPatients patients,
        CancellationToken ct) =>
        TranslateBundle.Run(parsed, zone, await patients.LoadAsync(TranslateBundle.InfantsNamedIn(parsed), ct));

    public override ValueTask<bool> FillAsync(RowBatch batch, CancellationToken ct)
    {
        batch.Clear();
        for (; _next < bundle.Rows.Count && !batch.IsFull; _next++)
        {
            var row = bundle.Rows[_next];
            batch.Add(_next + 1, row.Entry + 1);
            batch.SetOnlyIf(row.OnlyIfUnknown);
            foreach (var (field, value) in row.Values) batch.Set(field, value);
            foreach (var problem in row.Problems) batch.AddProblem(problem);
        }

        return ValueTask.FromResult(batch.Count > 0);
    }

    public override void Dispose()
    {
    }
}

/// <summary>Can the Bundle be used as a whole, and how many rows does it hold. A transaction with an unreadable entry cannot.</summary>
public sealed class InspectFhir : InspectSubmission
{
    private readonly ArrayBufferWriter<byte> _bytes = new();

    public override void Feed(ReadOnlySpan<byte> bytes)
    {
        // One byte more than allowed is enough to know.
        var room = ParseBundle.MaxBytes + 1 - _bytes.WrittenCount;
        _bytes.Write(bytes.Length <= room ? bytes : bytes[..room]);
    }

    public override void End()
    {
        var parsed = ParseBundle.Read(_bytes.WrittenSpan);
        foreach (var issue in parsed.Fatal) Add(issue.Entry + 1 ?? 0, issue.Expression, issue.Text);
        if (Problems.Count > 0) return;
        RowCount = TranslateBundle.Run(parsed, TimeZoneInfo.Utc, null).Rows.Count;
        if (RowCount > ParseBundle.MaxRows) Add(0, "Bundle", $"makes more than {ParseBundle.MaxRows} rows; send less at once");
    }
}
