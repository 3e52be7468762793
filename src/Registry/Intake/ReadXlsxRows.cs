namespace Registry.Intake;

/// <summary>The rows of a workbook's sheet. It was opened once when it was received, so its structure is sound.</summary>
public sealed class ReadXlsxRows : RowReader
{
    private readonly Workbook _workbook;
    private readonly PlaceCells _place;
    private int _number;

    private ReadXlsxRows(Workbook workbook, HowToRead read) => (_workbook, _place) = (workbook, new PlaceCells(workbook.Header, read));

    public static ReadXlsxRows Open(Stream bytes, HowToRead read) => new(Workbook.Open(bytes, read.Sheet), read);

    public override ValueTask<bool> FillAsync(RowBatch batch, CancellationToken ct)
    {
        batch.Clear();
        while (!batch.IsFull && _workbook.Next())
        {
            ct.ThrowIfCancellationRequested();
            batch.Add(++_number, _workbook.Line);
            foreach (var (column, reason) in _workbook.Problems) batch.AddProblem(new(column < 0 ? null : _workbook.Header[column], reason));
            _place.Place(batch, column => _workbook.Cells[column]);
        }

        return ValueTask.FromResult(batch.Count > 0);
    }

    public override void Dispose() => _workbook.Dispose();
}
