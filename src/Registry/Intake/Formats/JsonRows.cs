using System.Text;
using System.Text.Json;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats;

/// <summary>The JSON text does not have the expected shape; the message repeats no value.</summary>
internal sealed class MalformedJsonException(int row, string? field, string reason) : Exception(reason)
{
    public int Row { get; } = row;
    public string? Field { get; } = field;
}

/// <summary>Walks JSON that arrives in pieces, holding no more than a few values of it.</summary>
internal sealed class JsonRows(SubmissionFormat format, RowKind? defaultKind)
{
    private const int MaxValueBytes = 64 * 1024;

    /// <summary>Most submissions are one result: what is held grows with what comes.</summary>
    private const int FirstBytes = 4 * 1024;

    private enum Place { Start, Root, RowsValue, Rows, Row, Value, End }

    private readonly string? _defaultKind = defaultKind is { } kind ? Codes.Of(kind) : null;
    private byte[] _buffer = new byte[FirstBytes];
    private char[] _text = new char[FirstBytes];
    private JsonReaderState _state = new(new JsonReaderOptions { AllowMultipleValues = format == SubmissionFormat.Ndjson, MaxDepth = 8 });
    private int _length;
    private Place _place = Place.Start;
    private bool _hasRows;
    private Field? _field;
    private readonly bool[] _stated = new bool[RowBatch.FieldCount];
    private int _line = 1;

    /// <summary>Rows begun so far.</summary>
    public int Count { get; private set; }

    /// <summary>A row was begun whose end was not read yet.</summary>
    public bool IsInRow => _place is Place.Row or Place.Value;

    /// <summary>Where the next bytes go; never empty after <see cref="Read"/>.</summary>
    public Memory<byte> Free() => _buffer.AsMemory(_length);
    public void Filled(int length) => _length += length;

    /// <summary>Reads on until the bytes are used up or the batch is full. A null batch only counts.</summary>
    /// <exception cref="MalformedJsonException"/>
    public void Read(bool final, RowBatch? batch)
    {
        var reader = new Utf8JsonReader(_buffer.AsSpan(0, _length), final, _state);
        var counted = 0;
        try
        {
            while ((batch?.IsFull != true || IsInRow) && reader.Read())
            {
                if (reader.TokenType == JsonTokenType.StartObject)
                {
                    _line += _buffer.AsSpan(counted, (int)reader.TokenStartIndex - counted).Count((byte)'\n');
                    counted = (int)reader.TokenStartIndex;
                }

                Take(ref reader, batch);
            }
        }
        catch (JsonException e)
        {
            throw new MalformedJsonException(Count, null, final && IsCutOff()
                ? "the text ends before the JSON does"
                : $"not well-formed JSON at line {e.LineNumber + 1}, byte {e.BytePositionInLine + 1}");
        }

        var consumed = (int)reader.BytesConsumed;
        var wasFull = _length == _buffer.Length;
        _line += _buffer.AsSpan(counted, Math.Max(0, consumed - counted)).Count((byte)'\n');
        _state = reader.CurrentState;
        _buffer.AsSpan(consumed, _length - consumed).CopyTo(_buffer);
        _length -= consumed;
        if (_length >= MaxValueBytes && (batch?.IsFull != true || IsInRow))
            throw new MalformedJsonException(Count, null, $"a value is longer than {MaxValueBytes} bytes");
        if (wasFull && _buffer.Length < 2 * MaxValueBytes)
        {
            Array.Resize(ref _buffer, 2 * _buffer.Length);
            _text = new char[_buffer.Length];
        }
    }

    /// <summary>What is left would be sound if more followed.</summary>
    private bool IsCutOff()
    {
        var reader = new Utf8JsonReader(_buffer.AsSpan(0, _length), isFinalBlock: false, _state);
        try
        {
            while (reader.Read())
            {
            }

            return true;
        }
        catch (JsonException)
        {
            return false;
        }
    }

    private void Take(ref Utf8JsonReader reader, RowBatch? batch)
    {
        var token = reader.TokenType;
        switch (_place)
        {
            case Place.Start or Place.End:
                if (token != JsonTokenType.StartObject) throw new MalformedJsonException(Count, null, "must be a JSON object");
                if (format == SubmissionFormat.Ndjson) Begin(batch);
                else _place = Place.Root;
                break;
            case Place.Root when token == JsonTokenType.PropertyName:
                if (!reader.ValueTextEquals("rows")) throw new MalformedJsonException(0, null, "the object may hold only \"rows\"");
                if (_hasRows) throw new MalformedJsonException(Count, "rows", "is stated twice");
                _hasRows = true;
                _place = Place.RowsValue;
                break;
            case Place.Root:
                _place = Place.End;
                break;
            case Place.RowsValue:
                if (token != JsonTokenType.StartArray) throw new MalformedJsonException(0, "rows", "must be an array");
                _place = Place.Rows;
                break;
            case Place.Rows when token == JsonTokenType.EndArray:
                _place = Place.Root;
                break;
            case Place.Rows:
                if (token != JsonTokenType.StartObject) throw new MalformedJsonException(Count + 1, null, "must be a JSON object");
                Begin(batch);
                break;
            case Place.Row when token == JsonTokenType.EndObject:
                _place = format == SubmissionFormat.Ndjson ? Place.Start : Place.Rows;
                break;
            case Place.Row:
                Name(ref reader, batch);
                _place = Place.Value;
                break;
            case Place.Value:
                Value(ref reader, batch);
                _place = Place.Row;
                break;
        }
    }

    private void Begin(RowBatch? batch)
    {
        Count++;
        _place = Place.Row;
        Array.Clear(_stated);
        if (batch is null) return;
        batch.Add(Count, _line);
        if (_defaultKind is not null) batch.Set(Field.Kind, _defaultKind);
    }

    private void Name(ref Utf8JsonReader reader, RowBatch? batch)
    {
        var name = Copy(ref reader);
        if (name >= 0 && Codes.TryParse<Field>(_text.AsSpan(0, name), out var field))
        {
            if (_stated[(int)field]) batch?.AddProblem(new(field, "is stated twice"));
            _stated[(int)field] = true;
            _field = field;
            return;
        }

        _field = null;
        batch?.AddProblem(new(name < 0 ? null : new string(_text, 0, Math.Min(name, 60)).Replace("\0", "", StringComparison.Ordinal),
            "unknown field"));
    }

    private void Value(ref Utf8JsonReader reader, RowBatch? batch)
    {
        if (reader.TokenType is JsonTokenType.StartObject or JsonTokenType.StartArray)
            throw new MalformedJsonException(Count, _field is { } f ? Codes.Of(f) : null, "must be a text, a number, true, false or null");
        if (batch is null || _field is not { } field || reader.TokenType == JsonTokenType.Null) return;

        var length = reader.TokenType == JsonTokenType.String
            ? Copy(ref reader)
            : Encoding.ASCII.GetChars(reader.ValueSpan, _text);
        if (length < 0) batch.AddProblem(new(field, "holds half of a surrogate pair"));
        else if (field == Field.Problems) batch.SetOrigin(RowMark.AtEndOf(_text.AsSpan(0, length)));
        else batch.Set(field, _text.AsSpan(0, length));
    }

    /// <summary>The current string's length in <c>_text</c>; -1 when an escape in it is no character.</summary>
    private int Copy(ref Utf8JsonReader reader)
    {
        try
        {
            return reader.CopyString(_text);
        }
        catch (InvalidOperationException)
        {
            return -1;
        }
    }
}
