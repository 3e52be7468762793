using System.Buffers;
using System.Text.Json;
using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>
/// The text of some rows, whatever format they came in, in buffers that are used again for the next rows: the memory of
/// an upload does not depend on its length. It is full by rows or by text, whichever comes first.
/// </summary>
/// <param name="capacity">Most rows.</param>
/// <param name="whole">All rows are needed at once: only their number fills it.</param>
public sealed class RowBatch(int capacity, bool whole = false)
{
    /// <summary>Most characters of one value, and of a row of a table.</summary>
    public const int MaxValue = 64 * 1024;

    /// <summary>With so many characters of text it is full, however few its rows.</summary>
    public const int FullAt = 8 * 1024 * 1024;

    /// <summary>No text beyond this: a row that has more is rejected.</summary>
    private const int MaxText = 8 * FullAt;

    public static readonly int FieldCount = Enum.GetValues<Field>().Length;
    private static readonly Field[] All = Enum.GetValues<Field>();
    private static readonly JsonEncodedText[] Names = [.. Enum.GetValues<Field>().Select(f => JsonEncodedText.Encode(Codes.Of(f)))];

    private readonly (int Start, int Length)[] _ranges = new (int, int)[capacity * FieldCount];
    private readonly (int Number, int Line)[] _rows = new (int, int)[capacity];
    private readonly List<Problem>?[] _problems = new List<Problem>?[capacity];
    private readonly OnlyIfUnknown[] _onlyIf = new OnlyIfUnknown[capacity];
    private readonly RowMark?[] _origins = new RowMark?[capacity];
    private readonly ArrayBufferWriter<byte> _json = new(1024);
    private char[] _text = new char[capacity * 64];
    private int _used;

    public int Count { get; private set; }
    public bool IsFull => Count == capacity || (_used >= FullAt && !whole);

    public void Clear()
    {
        Array.Clear(_ranges, 0, Count * FieldCount);
        Array.Clear(_problems, 0, Count);
        Array.Clear(_onlyIf, 0, Count);
        Array.Clear(_origins, 0, Count);
        Count = 0;
        _used = 0;
    }

    /// <summary>Starts a row; <see cref="Set"/> and <see cref="AddProblem(Problem)"/> speak of it until the next.</summary>
    public void Add(int number, int line) => _rows[Count++] = (number, line);

    /// <summary>The current row states a field. What was said about a row that comes back is none (<see cref="SetOrigin"/>).</summary>
    public void Set(Field field, ReadOnlySpan<char> value)
    {
        value = value.Trim();
        if (value.IsEmpty || field == Field.Problems) return;
        if (value.IndexOfAnyInRange('\0', '\u001f') >= 0 && HasControl(value))
        {
            AddProblem(new(field, "holds a control character"));
            return;
        }

        if (value.Length > MaxValue || _used + value.Length > MaxText)
        {
            AddProblem(new(field,
                value.Length > MaxValue ? $"is longer than {MaxValue} characters" : "is more text than is taken in at once"));
            return;
        }

        if (_used + value.Length > _text.Length)
            Array.Resize(ref _text, Math.Max(_text.Length * 2, _used + value.Length));
        value.CopyTo(_text.AsSpan(_used));
        _ranges[((Count - 1) * FieldCount) + (int)field] = (_used, value.Length);
        _used += value.Length;
    }

    /// <summary>A problem found while reading the current row's text.</summary>
    public void AddProblem(Problem problem) => AddProblem(Count - 1, problem);

    public void AddProblem(int row, Problem problem) => (_problems[row] ??= []).Add(problem);

    /// <summary>The current row creates an infant only if none of these is known.</summary>
    public void SetOnlyIf(OnlyIfUnknown identifiers) => _onlyIf[Count - 1] = identifiers;

    public OnlyIfUnknown OnlyIf(int row) => _onlyIf[row];

    /// <summary>The current row is a rejected one that comes back; null: it is not.</summary>
    public void SetOrigin(RowMark? rejected) => _origins[Count - 1] = rejected;

    /// <summary>The rejected row this one comes back for.</summary>
    public RowMark? Origin(int row) => _origins[row];
    public int Number(int row) => _rows[row].Number;
    public int Line(int row) => _rows[row].Line;
    public IReadOnlyList<Problem> Problems(int row) => _problems[row] ?? [];

    public bool IsStated(int row, Field field) => _ranges[(row * FieldCount) + (int)field].Length > 0;

    /// <summary>Whether a row states one of some fields.</summary>
    public bool StatesAny(int row, ReadOnlySpan<Field> fields)
    {
        var ranges = _ranges.AsSpan(row * FieldCount, FieldCount);
        foreach (var field in fields)
            if (ranges[(int)field].Length > 0) return true;
        return false;
    }

    /// <summary>Nothing of it could be read.</summary>
    public bool IsEmpty(int row) => !StatesAny(row, All);

    /// <summary>The trimmed text of a field; empty when not stated.</summary>
    public ReadOnlySpan<char> Text(int row, Field field)
    {
        var (start, length) = _ranges[(row * FieldCount) + (int)field];
        return _text.AsSpan(start, length);
    }

    /// <summary>The stated fields of a row as a JSON object, to be kept with a held or rejected row.</summary>
    public string ToJson(int row)
    {
        _json.ResetWrittenCount();
        using (var writer = new Utf8JsonWriter(_json))
        {
            writer.WriteStartObject();
            for (var field = 0; field < FieldCount; field++)
            {
                var text = Text(row, (Field)field);
                if (!text.IsEmpty) writer.WriteString(Names[field], text);
            }

            writer.WriteEndObject();
        }

        return System.Text.Encoding.UTF8.GetString(_json.WrittenSpan);
    }

    /// <summary>Reads back what <see cref="ToJson"/> wrote.</summary>
    public void AddJson(int number, int line, string json)
    {
        Add(number, line);
        using var document = JsonDocument.Parse(json);
        foreach (var property in document.RootElement.EnumerateObject())
        {
            // A column of an earlier release is said, not silently left out.
            if (Codes.TryParse<Field>(property.Name, out var field)) Set(field, property.Value.GetString());
            else AddProblem(new(property.Name, "unknown field"));
        }
    }

    private static bool HasControl(ReadOnlySpan<char> value)
    {
        foreach (var c in value)
        {
            // Line breaks and tabs inside a quoted cell are harmless.
            if (char.IsControl(c) && c is not ('\r' or '\n' or '\t')) return true;
        }

        return false;
    }
}
