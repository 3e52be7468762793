using Registry.Intake.Rows;

namespace Registry.Intake.Formats.Hl7V2;

public enum PartKind { Message, FileHeader, BatchHeader, BatchTrailer, FileTrailer }

/// <summary>A whole message, or a line of a batch's envelope. The bytes hold until the next is asked for.</summary>
/// <param name="Line">Of its first segment in the file, 1-based.</param>
public readonly record struct MessagePart(PartKind Kind, ReadOnlyMemory<byte> Bytes, int Line);

/// <summary>
/// Cuts bytes that arrive in pieces into messages: one, several after another, or a batch (<c>FHS BHS MSH… BTS FTS</c>, HL7 v2.x
/// chapter 2.10.3), whose envelope must be whole and whose counts must be right. Holds one message at a time.
/// </summary>
public sealed class SplitMessages
{
    public const int MaxMessageBytes = 1024 * 1024;
    private const int Piece = 64 * 1024;

    private byte[] _buffer = new byte[2 * Piece];
    private int _start, _length, _line = 1, _batches, _messages;
    private bool _begun, _inFile, _inBatch, _ended, _dropped;

    /// <summary>Messages so far.</summary>
    public int Count { get; private set; }

    /// <summary>Why the bytes are no messages; nothing follows then.</summary>
    public FileProblem? Problem { get; private set; }

    /// <summary>Where the next bytes go.</summary>
    public Memory<byte> Free()
    {
        if (_start > 0)
        {
            _buffer.AsSpan(_start, _length - _start).CopyTo(_buffer);
            (_length, _start) = (_length - _start, 0);
        }

        if (_buffer.Length - _length < Piece) Array.Resize(ref _buffer, _buffer.Length * 2);
        return _buffer.AsMemory(_length, Piece);
    }

    public void Filled(int length) => _length += length;

    /// <summary>The next part; false when more bytes are needed, or (<paramref name="final"/>) there is none.</summary>
    public bool Next(bool final, out MessagePart part)
    {
        part = default;
        while (Problem is null)
        {
            SkipBlank();
            var bytes = _buffer.AsSpan(_start, _length - _start);
            if (bytes.Length < 4 && !final) return false;
            if (bytes.IsEmpty)
            {
                if (final) End();
                return false;
            }

            if (KindOf(bytes) is not { } kind)
            {
                Fail(_begun ? "text that belongs to no message" : "does not begin with MSH, BHS or FHS: it is not an HL7 v2 message");
                return false;
            }

            if (LengthOf(bytes, kind, final, out var lines) is not { } length)
            {
                if (bytes.Length > MaxMessageBytes) Fail($"a message is longer than {MaxMessageBytes} bytes");
                return false;
            }

            part = new(kind, _buffer.AsMemory(_start, length), _line);
            Take(kind, bytes[..length]);
            if (length > MaxMessageBytes) Fail($"a message is longer than {MaxMessageBytes} bytes");
            _start += length;
            _line += lines;
            return Problem is null;
        }

        return false;
    }

    private static PartKind? KindOf(ReadOnlySpan<byte> bytes) => bytes.Length < 3 ? null : bytes[..3] switch
    {
        [(byte)'M', (byte)'S', (byte)'H'] => PartKind.Message,
        [(byte)'F', (byte)'H', (byte)'S'] => PartKind.FileHeader,
        [(byte)'B', (byte)'H', (byte)'S'] => PartKind.BatchHeader,
        [(byte)'B', (byte)'T', (byte)'S'] => PartKind.BatchTrailer,
        [(byte)'F', (byte)'T', (byte)'S'] => PartKind.FileTrailer,
        _ => null,
    };

    /// <summary>A message goes on to the next header or trailer, an envelope's line to its end.</summary>
    private static int? LengthOf(ReadOnlySpan<byte> bytes, PartKind kind, bool final, out int lines)
    {
        lines = 0;
        var at = 0;
        while (true)
        {
            var end = bytes[at..].IndexOfAny((byte)'\r', (byte)'\n');
            if (end < 0) return final ? bytes.Length : null;
            at += end + 1;
            if (bytes[at - 1] == '\r' && at < bytes.Length && bytes[at] == '\n') at++;
            lines++;
            if (kind != PartKind.Message) return at;
            if (bytes.Length - at < 3 && !final) return null;
            if (KindOf(bytes[at..]) is not null) return at;
            if (at == bytes.Length) return final ? at : null;
        }
    }

    private void Take(PartKind kind, ReadOnlySpan<byte> bytes)
    {
        if (_ended)
        {
            Fail("something follows the trailer of the file (FTS)");
            return;
        }

        switch (kind)
        {
            case PartKind.Message:
                Count++;
                _messages++;
                break;
            case PartKind.FileHeader:
                if (_begun) Fail("a file header (FHS) is not at the start");
                _inFile = true;
                break;
            case PartKind.BatchHeader:
                if (_inBatch) Fail("a batch begins (BHS) before the last one ended (BTS)");
                (_inBatch, _messages) = (true, 0);
                _batches++;
                break;
            case PartKind.BatchTrailer:
                if (!_inBatch) Fail("a batch ends (BTS) that did not begin (BHS)");
                else if (CountIn(bytes) is { } stated && stated != _messages)
                    Fail($"BTS-1 says {stated} messages, the batch has {_messages}");
                _inBatch = false;
                break;
            default:
                if (!_inFile || _inBatch) Fail("the file ends (FTS) before its batch did, or did not begin (FHS)");
                else if (CountIn(bytes) is { } all && all != _batches) Fail($"FTS-1 says {all} batches, the file has {_batches}");
                (_inFile, _ended) = (false, true);
                break;
        }

        _begun = true;
    }

    private static int? CountIn(ReadOnlySpan<byte> trailer)
    {
        if (trailer.Length < 5) return null;
        var field = trailer[4..];
        var end = field.IndexOfAnyExceptInRange((byte)'0', (byte)'9');
        return System.Buffers.Text.Utf8Parser.TryParse(end < 0 ? field : field[..end], out int count, out _) ? count : null;
    }

    private void End()
    {
        if (_inBatch) Fail("the batch breaks off: its trailer (BTS) is missing");
        else if (_inFile) Fail("the file breaks off: its trailer (FTS) is missing");
        else if (Count == 0) Fail("there are no messages");
    }

    private void SkipBlank()
    {
        if (!_dropped && _length - _start >= 3)
        {
            _dropped = true;
            if (_buffer.AsSpan(_start, 3).SequenceEqual((ReadOnlySpan<byte>)[0xEF, 0xBB, 0xBF])) _start += 3;
        }

        while (_start < _length && _buffer[_start] is (byte)'\r' or (byte)'\n' or (byte)' ')
        {
            if (_buffer[_start] == '\r' || (_buffer[_start] == '\n' && (_start == 0 || _buffer[_start - 1] != '\r'))) _line++;
            _start++;
        }
    }

    private void Fail(string reason) => Problem ??= new(Count, null, $"line {_line}: {reason}");
}
