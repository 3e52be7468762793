using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Hl7V2;

/// <summary>Something the sender is told about a message that was taken in all the same.</summary>
/// <param name="Code">Of HL7 table 0357.</param>
public readonly record struct Remark(Location At, int Code, char Severity, string Text);

/// <summary>
/// The rows of one message: every field with the place it came from, so that what the intake says of a column can be told to the
/// sender as a place in the message. Used again for the next message.
/// </summary>
public sealed class MessageRows
{
    private readonly record struct Cell(Field Field, int Start, int Length, Location At);
    private readonly record struct Row(int FirstCell, int FirstProblem, Location Anchor);
    private readonly record struct Fault(Problem Problem, Location At);

    private readonly List<Cell> _who = [];
    private readonly List<Cell> _cells = [];
    private readonly List<Fault> _whoProblems = [];
    private readonly List<Fault> _problems = [];
    private readonly List<Row> _rows = [];
    private char[] _text = new char[4_096];
    private int _used;
    private bool _inRow;

    public int Count => _rows.Count;

    /// <summary>What the sender is told besides what became of the rows.</summary>
    public List<Remark> Remarks { get; } = [];

    /// <summary>The message is refused for its header, or cannot be read: its only row says why.</summary>
    public bool IsRefused { get; private set; }

    /// <summary>Of table 0357, for a refused message.</summary>
    public int RefusalCode { get; private set; }

    public void Clear()
    {
        _who.Clear();
        _whoProblems.Clear();
        _cells.Clear();
        _problems.Clear();
        _rows.Clear();
        Remarks.Clear();
        (_used, _inRow, IsRefused, RefusalCode) = (0, false, false, 0);
    }

    /// <summary>What is set from here to the first row is said in every row of the infant.</summary>
    public void BeginInfant()
    {
        _who.Clear();
        _whoProblems.Clear();
        _inRow = false;
    }

    public void Begin(RowKind kind, Location anchor)
    {
        _rows.Add(new(_cells.Count, _problems.Count, anchor));
        _inRow = true;
        Set(Field.Kind, Codes.Of(kind), anchor);
        _cells.AddRange(_who);
        _problems.AddRange(_whoProblems);
    }

    /// <summary>A row that is nothing but a problem.</summary>
    public void BeginUnreadable(Location anchor, string reason)
    {
        _rows.Add(new(_cells.Count, _problems.Count, anchor));
        _inRow = true;
        Fail(Field.Kind, reason, anchor);
    }

    /// <summary>The whole message becomes one row that says why it is refused.</summary>
    public void Refuse(Location at, int code, string reason)
    {
        if (IsRefused)
        {
            Fail(Field.Kind, reason, at);
            return;
        }

        Clear();
        (IsRefused, RefusalCode) = (true, code);
        BeginUnreadable(at, reason);
    }

    public void Set(Field field, ReadOnlySpan<char> value, Location at)
    {
        if (_used + value.Length > _text.Length) Array.Resize(ref _text, Math.Max(_text.Length * 2, _used + value.Length));
        value.CopyTo(_text.AsSpan(_used));
        (_inRow ? _cells : _who).Add(new(field, _used, value.Length, at));
        _used += value.Length;
    }

    /// <summary>Where a field would be, had it been stated.</summary>
    public void Locate(Field field, Location at) => (_inRow ? _cells : _who).Add(new(field, 0, 0, at));

    /// <summary>What the current row states in a field; empty when nothing.</summary>
    public ReadOnlySpan<char> Stated(Field field)
    {
        for (var i = _cells.Count - 1; i >= _rows[^1].FirstCell; i--)
            if (_cells[i].Field == field && _cells[i].Length > 0) return _text.AsSpan(_cells[i].Start, _cells[i].Length);
        return default;
    }

    /// <summary>Something is wrong with a field of the current row.</summary>
    /// <param name="field">The field.</param>
    /// <param name="reason">What is wrong with it, in words that repeat no value.</param>
    /// <param name="at">Where it stands.</param>
    /// <param name="stated">What was stated, kept with the rejected row as it is for whoever corrects it.</param>
    public void Fail(Field field, string reason, Location at, ReadOnlySpan<char> stated = default)
    {
        (_inRow ? _problems : _whoProblems).Add(new(new(field, reason), at));
        if (!stated.IsEmpty) Set(field, stated, at);
    }

    /// <summary>Copies a row (0-based) to where rows are checked.</summary>
    public void CopyTo(RowBatch batch, int row, int number, int line)
    {
        batch.Add(number, line);
        var r = _rows[row];
        var cells = row + 1 < _rows.Count ? _rows[row + 1].FirstCell : _cells.Count;
        for (var i = r.FirstCell; i < cells; i++)
            if (_cells[i].Length > 0) batch.Set(_cells[i].Field, _text.AsSpan(_cells[i].Start, _cells[i].Length));
        var problems = row + 1 < _rows.Count ? _rows[row + 1].FirstProblem : _problems.Count;
        for (var i = r.FirstProblem; i < problems; i++) batch.AddProblem(_problems[i].Problem);
    }

    /// <summary>The place a problem of a row is about.</summary>
    public Location Find(int row, Problem problem)
    {
        var r = _rows[row];
        var problems = row + 1 < _rows.Count ? _rows[row + 1].FirstProblem : _problems.Count;
        for (var i = r.FirstProblem; i < problems; i++)
            if (_problems[i].Problem == problem) return _problems[i].At;
        var cells = row + 1 < _rows.Count ? _rows[row + 1].FirstCell : _cells.Count;
        for (var i = cells - 1; i >= r.FirstCell; i--)
            if (problem.Field is not null && Codes.Of(_cells[i].Field) == problem.Field) return _cells[i].At;
        return r.Anchor;
    }

    public Location AnchorOf(int row) => _rows[row].Anchor;
}
