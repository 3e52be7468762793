using System.Text;

namespace Registry.Intake.Formats;

/// <summary>Is the file whole: a line H of our layout, lines B and D, a line T that counts them.</summary>
public sealed class InspectFixedWidth : InspectSubmission
{
    private const string LayoutName = "VITAL01";

    private readonly List<byte> _line = [];
    private int _lines;
    private bool _ended, _afterCarriageReturn;

    public override void Feed(ReadOnlySpan<byte> bytes)
    {
        while (!bytes.IsEmpty && !IsHopeless)
        {
            if (_afterCarriageReturn && bytes[0] == '\n') bytes = bytes[1..];
            _afterCarriageReturn = false;
            var end = bytes.IndexOfAny((byte)'\n', (byte)'\r');
            var part = end < 0 ? bytes : bytes[..end];
            if (_line.Count + part.Length > InspectCsv.MaxRowBytes)
            {
                Add(RowCount + 1, null, $"line {_lines + 1} is longer than {InspectCsv.MaxRowBytes} bytes");
                return;
            }

            _line.AddRange(part);
            if (end < 0) return;
            EndLine();
            _afterCarriageReturn = bytes[end] == '\r';
            bytes = bytes[(end + 1)..];
        }
    }

    public override void End()
    {
        if (_line.Count > 0) EndLine();
        if (_lines == 0) Add(0, null, "the file is empty: a line H is needed");
        else if (!_ended && Problems.Count == 0) Add(0, null, "the file breaks off: its last line T is not there");
        else if (RowCount == 0 && Problems.Count == 0) Add(0, null, "the file has no line B or D");
    }

    private void EndLine()
    {
        var line = Encoding.Latin1.GetString([.. _line]);
        _line.Clear();
        _lines++;
        if (_lines == 1)
        {
            if (!line.StartsWith($"H{LayoutName}", StringComparison.Ordinal)) Add(0, null, $"line 1 does not start with H{LayoutName}");
        }
        else if (line.Length == 0) return;
        else if (_ended) Add(0, null, $"line {_lines} follows the line T");
        else if (line[0] == 'T')
        {
            _ended = true;
            if (!int.TryParse(line.AsSpan(1).Trim(), out var rows))
                Add(0, null, $"line {_lines} does not say how many lines B and D there are");
            else if (rows != RowCount) Add(0, null, $"line {_lines} says {rows} lines B and D, the file has {RowCount}");
        }
        else if (line[0] is 'B' or 'D') RowCount++;
        else Add(RowCount + 1, null, $"line {_lines} starts with none of B, D and T");
    }
}
