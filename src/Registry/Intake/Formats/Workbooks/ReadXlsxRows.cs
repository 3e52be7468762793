using Registry.Intake.Rows;

namespace Registry.Intake.Formats.Workbooks;

/// <summary>The rows of a workbook's sheet. It was opened once when it was received, so its structure is sound.</summary>
public sealed class ReadXlsxRows : RowReader
{
    private readonly Workbook _workbook;
    private readonly PlaceCells _place;
    private int _number;

    private ReadXlsxRows(Workbook workbook, FileReading read) => (_workbook, _place) = (workbook, new PlaceCells(workbook.Header, read));

    public static async Task<ReadXlsxRows> OpenAsync(Stream bytes, FileReading read, CancellationToken ct) =>
        new(await Workbook.OpenAsync(bytes, read.Sheet, limits: null, ct), read);

    public override ValueTask<bool> FillAsync(RowBatch batch, CancellationToken ct)
    {
        batch.Clear();
        while (!batch.IsFull && _workbook.Next())
        {
            ct.ThrowIfCancellationRequested();
            batch.Add(++_number, _workbook.Line);
            _place.Place(batch, column => _workbook.Cells[column], _workbook.Problems);
        }

        return ValueTask.FromResult(batch.Count > 0);
    }

    public override void Dispose() => _workbook.Dispose();
}
