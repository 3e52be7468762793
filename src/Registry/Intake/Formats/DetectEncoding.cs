using System.Buffers;
using System.Text;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Records;

namespace Registry.Intake.Formats;

/// <summary>
/// Finds out how a text is encoded while it is read. A byte order mark decides, whatever is stated; without a statement zero bytes beside
/// every ASCII character mean UTF-16 without one; what is valid UTF-8 is UTF-8; anything else is Windows-1252, unless the text also holds
/// characters that only make sense in UTF-8: then one of the two is damage, and the file is refused rather than guessed at.
/// </summary>
/// <remarks>Encodings and their labels: WHATWG Encoding Standard (iso-8859-1 and us-ascii are read as windows-1252, its
/// superset; a mark goes before what is stated: its algorithm "decode"); RFC 3629 (UTF-8), RFC 2781 (UTF-16).</remarks>
public sealed class DetectEncoding
{
    private const int Head = 1024;

    private TextEncoding? _stated;
    private readonly bool _utf8Only;
    private readonly byte[] _carry = new byte[4];
    private int _carried;
    private long _line = 1;
    private long _notUtf8Line, _notWindowsLine, _zeroLine, _characters;

    /// <param name="stated">What the sender says; null to find out.</param>
    /// <param name="utf8Only">JSON: RFC 8259, section 8.1.</param>
    public DetectEncoding(TextEncoding? stated, bool utf8Only) => (_stated, _utf8Only) = (stated, utf8Only);

    /// <summary>The encoding of a charset parameter; null when it is none that is read here.</summary>
    public static TextEncoding? OfCharset(string charset) => charset.Trim('"').ToLowerInvariant() switch
    {
        "utf-8" or "utf8" => TextEncoding.Utf8,
        "utf-16" or "utf-16le" => TextEncoding.Utf16Le,
        "utf-16be" => TextEncoding.Utf16Be,
        "windows-1252" or "cp1252" or "iso-8859-1" or "latin1" or "us-ascii" or "ascii" => TextEncoding.Windows1252,
        _ => null,
    };

    /// <summary>The decoder of an encoding; what it cannot decode throws <see cref="DecoderFallbackException"/>.</summary>
    public static Encoding Of(TextEncoding encoding) => encoding switch
    {
        TextEncoding.Utf8 => new UTF8Encoding(false, true),
        TextEncoding.Utf16Le => new UnicodeEncoding(false, true, true),
        TextEncoding.Utf16Be => new UnicodeEncoding(true, true, true),
        _ => CodePagesEncodingProvider.Instance.GetEncoding(1252, EncoderFallback.ExceptionFallback, DecoderFallback.ExceptionFallback)!,
    };

    /// <summary>UTF-16 is known from the start; for the rest <see cref="End"/> says after all bytes were seen.</summary>
    public TextEncoding? Utf16 { get; private set; }

    /// <summary>Looks at the first bytes.</summary>
    /// <returns>The text in UTF-8, or in an encoding whose ASCII is ASCII, without byte order mark.</returns>
    public async Task<Stream> OpenAsync(Stream bytes, CancellationToken ct)
    {
        var head = new byte[Head];
        var length = await bytes.ReadAtLeastAsync(head, Head, throwOnEndOfStream: false, ct);
        var start = head.AsMemory(0, length);
        var mark = start.Span switch
        {
            [0xEF, 0xBB, 0xBF, ..] => 3,
            [0xFF, 0xFE, ..] or [0xFE, 0xFF, ..] => 2,
            _ => 0,
        };
        if (mark == 3) _stated = TextEncoding.Utf8;
        if (mark == 2 || _stated is null) Utf16 = Utf16Of(start.Span, mark);
        else if (_stated is TextEncoding.Utf16Le or TextEncoding.Utf16Be) Utf16 = _stated;
        Stream whole = new Prefixed(start[mark..], bytes);
        if (Utf16 is not { } utf16) return whole;
        if (_utf8Only) throw new UnreadableFileException(0, null, "the text is UTF-16: JSON is sent in UTF-8 (RFC 8259)");
        return Encoding.CreateTranscodingStream(whole, Of(utf16), new UTF8Encoding(false), leaveOpen: true);
    }

    /// <summary>Looks at the next bytes of what <see cref="OpenAsync"/> gave.</summary>
    public void Feed(ReadOnlySpan<byte> text)
    {
        text = CompleteCarried(text);
        while (true)
        {
            text = text[Plain(text)..];
            if (text.IsEmpty) return;
            if (text[0] == 0)
            {
                if (_zeroLine == 0) _zeroLine = _line;
                text = text[1..];
                continue;
            }

            switch (Rune.DecodeFromUtf8(text, out _, out var length))
            {
                case OperationStatus.Done:
                    _characters++;
                    break;
                case OperationStatus.NeedMoreData:
                    text.CopyTo(_carry);
                    _carried = text.Length;
                    return;
                default:
                    NotUtf8(text[..length]);
                    break;
            }

            text = text[length..];
        }
    }

    /// <summary>A character cut by the end of the last piece is completed by the first bytes of this one.</summary>
    /// <returns>What follows it.</returns>
    private ReadOnlySpan<byte> CompleteCarried(ReadOnlySpan<byte> text)
    {
        while (_carried > 0 && !text.IsEmpty)
        {
            _carry[_carried++] = text[0];
            var status = Rune.DecodeFromUtf8(_carry.AsSpan(0, _carried), out _, out _);
            if (status == OperationStatus.NeedMoreData)
            {
                text = text[1..];
                continue;
            }

            // Not a character: the byte just read may begin one of its own.
            if (status == OperationStatus.Done)
            {
                _characters++;
                text = text[1..];
            }
            else
            {
                NotUtf8(_carry.AsSpan(0, _carried - 1));
            }

            _carried = 0;
        }

        return text;
    }

    /// <summary>How many bytes of ASCII the text begins with, without zero bytes; lines are counted in them.</summary>
    private int Plain(ReadOnlySpan<byte> text)
    {
        var other = text.IndexOfAnyExceptInRange((byte)1, (byte)0x7F);
        var length = other < 0 ? text.Length : other;
        _line += text[..length].Count((byte)'\n');
        return length;
    }

    /// <summary>There are no more bytes.</summary>
    /// <exception cref="UnreadableFileException">The text is in none of the encodings, or not in the stated one.</exception>
    public TextEncoding End()
    {
        if (_carried > 0) NotUtf8(_carry.AsSpan(0, _carried));
        if (_zeroLine > 0) throw new UnreadableFileException(0, null, $"line {_zeroLine} holds zero bytes: the file is not a text file");
        if (Utf16 is { } utf16) return utf16;
        if (_stated == TextEncoding.Windows1252) return Windows();
        if (_notUtf8Line == 0) return TextEncoding.Utf8;
        if (_utf8Only || _stated is not null) throw new UnreadableFileException(0, null, $"line {_notUtf8Line} is not UTF-8");
        if (_characters > 0)
            throw new UnreadableFileException(0, null, $"line {_notUtf8Line} is not UTF-8, though other lines are: save the file as UTF-8");
        return Windows();
    }

    private TextEncoding Windows() => _notWindowsLine == 0
        ? TextEncoding.Windows1252
        : throw new UnreadableFileException(0, null, $"line {_notWindowsLine} is neither UTF-8 nor Windows-1252: save the file as UTF-8");

    private void NotUtf8(ReadOnlySpan<byte> bytes)
    {
        if (_notUtf8Line == 0) _notUtf8Line = _line;
        // The five codes Windows-1252 leaves without a character.
        if (_notWindowsLine == 0 && bytes.IndexOfAny([(byte)0x81, (byte)0x8D, (byte)0x8F, (byte)0x90, (byte)0x9D]) >= 0)
            _notWindowsLine = _line;
    }

    /// <summary>By its mark; without one, by zero bytes at every other place, as ASCII characters have them.</summary>
    private static TextEncoding? Utf16Of(ReadOnlySpan<byte> head, int mark)
    {
        if (mark == 2) return head[0] == 0xFF ? TextEncoding.Utf16Le : TextEncoding.Utf16Be;
        if (mark != 0 || head.Length < 4) return null;
        var (even, odd) = (0, 0);
        for (var i = 0; i + 1 < head.Length; i += 2)
        {
            if (head[i] == 0) even++;
            if (head[i + 1] == 0) odd++;
        }

        var pairs = head.Length / 2;
        return odd > pairs / 2 && even == 0 ? TextEncoding.Utf16Le : even > pairs / 2 && odd == 0 ? TextEncoding.Utf16Be : null;
    }

    private sealed class Prefixed(ReadOnlyMemory<byte> head, Stream rest) : ReadOnlyStream
    {
        private int _position;

        public override ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default)
        {
            if (_position == head.Length) return rest.ReadAsync(buffer, cancellationToken);
            var count = Math.Min(buffer.Length, head.Length - _position);
            head.Slice(_position, count).CopyTo(buffer);
            _position += count;
            return ValueTask.FromResult(count);
        }
    }
}
