using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Intake.Formats.Hl7V2;

/// <summary>
/// Reads one message into rows: results (ORU^R01), admissions, discharges and updates of newborns (ADT^A01, A03, A04, A08, A31) and merged
/// record numbers (A40). Which rows a message makes depends on its bytes alone. Never throws.
/// </summary>
/// <param name="zone">The region's time zone: times with another offset are reckoned to it.</param>
public sealed partial class MapMessage(TimeZoneInfo zone)
{
    private static readonly string[] Versions = ["2.3.1", "2.4", "2.5", "2.5.1", "2.6", "2.7", "2.7.1", "2.8", "2.8.1", "2.8.2"];

    private readonly Hl7V2Message _message = new();
    private readonly MessageRows _rows = new();
    private readonly Unescape _unescape = new();

    public Hl7V2Message Message => _message;
    public MessageRows Rows => _rows;

    /// <summary>Reads the message; what was read before is forgotten.</summary>
    public void Read(ReadOnlySpan<byte> bytes)
    {
        _rows.Clear();
        if (_message.Read(bytes) is { } unreadable)
        {
            _rows.Refuse(unreadable.At, unreadable.Code, unreadable.Reason);
            return;
        }

        CheckHeader();
        if (_rows.IsRefused) return;
        var trigger = _message.Value(0, 9, 2);
        switch (_message.Value(0, 9))
        {
            case "ORU": Results(); break;
            case "ADT" when trigger is "A40": EachPatient(static (map, pid, end) => map.MergedNumbers(pid, end)); break;
            default: EachPatient(static (map, pid, end) => map.Admission(pid, end)); break;
        }
    }

    private void CheckHeader()
    {
        var type = _message.Value(0, 9);
        var trigger = _message.Value(0, 9, 2);
        if (type is not ("ORU" or "ADT")) _rows.Refuse(new(0, 9, 1, 1), 200, "MSH-9 is neither ORU nor ADT");
        else if (type is "ORU" ? trigger is not "R01" : trigger is not ("A01" or "A03" or "A04" or "A08" or "A31" or "A40"))
            _rows.Refuse(new(0, 9, 1, 2), 201, "MSH-9 names an event that is none of ORU^R01, ADT^A01, A03, A04, A08, A31, A40");
        if (_message.Field(0, 10).Trim().IsEmpty) _rows.Refuse(new(0, 10), 101, "MSH-10 (message control id) is required");
        if (_message.Value(0, 11) is not "P")
            _rows.Refuse(new(0, 11), 202, "MSH-11 is not P: a registry records what happened, not training or debugging");
        if (!Contains(Versions, _message.Value(0, 12)))
            _rows.Refuse(new(0, 12), 203, $"MSH-12 is not one of {string.Join(", ", Versions)}");
    }

    private static bool Contains(string[] list, ReadOnlySpan<char> text)
    {
        foreach (var item in list)
            if (text.SequenceEqual(item)) return true;
        return false;
    }

    /// <summary>From a PID to the next, or the end.</summary>
    private int EndOfPatient(int pid)
    {
        for (var i = pid + 1; i < _message.SegmentCount; i++)
            if (_message.Is(i, "PID")) return i;
        return _message.SegmentCount;
    }

    private int NextPatient(int from)
    {
        for (var i = from; i < _message.SegmentCount; i++)
            if (_message.Is(i, "PID")) return i;
        return -1;
    }

    private int Find(ReadOnlySpan<char> name, int from, int to)
    {
        for (var i = from; i < to; i++)
            if (_message.Is(i, name)) return i;
        return -1;
    }

    private void Missing(ReadOnlySpan<char> segment, int expectedAfter) =>
        _rows.BeginUnreadable(new(expectedAfter), $"{segment} is required: segment sequence error");

    /// <summary>Every patient of the message; a message without one says so.</summary>
    private void EachPatient(Action<MapMessage, int, int> read)
    {
        var pid = NextPatient(0);
        if (pid < 0) Missing("PID", 0);
        for (; pid >= 0; pid = NextPatient(pid + 1))
        {
            var end = EndOfPatient(pid);
            Who(pid, end, card: -1);
            read(this, pid, end);
        }
    }

    private void Admission(int pid, int end)
    {
        var before = _rows.Count;
        var newborn = Newborn(pid, end);
        if (newborn) Birth(pid, end, default);
        Death(pid);
        if (newborn) Family(pid, end, ofBirth: true);
        if (_rows.Count == before)
            _rows.Remarks.Add(new(
                new(pid), 0, 'I', "nothing to record: PV1-4 does not say newborn (N), so this is not the admission of a birth"));
    }

    /// <summary>Two record numbers of one infant: PID-3 stays, MRG-1 was used before.</summary>
    private void MergedNumbers(int pid, int end)
    {
        var mrg = Find("MRG", pid, end);
        if (mrg < 0)
        {
            Missing("MRG", pid);
            return;
        }

        _rows.Begin(RowKind.Merge, new(mrg));
        RecordNumber(Field.PriorRecordNumber, mrg, 1);
    }

    /// <summary>Sets a value as it reads; empty and <c>""</c> are not stated. In the standard <c>""</c> asks to delete: nothing here is
    /// erased by a message, and the sender is told.</summary>
    private bool Set(Field field, ReadOnlySpan<char> raw, Location at)
    {
        if (raw is "\"\"") _rows.Remarks.Add(new(at, 0, 'W', "an explicit null erases nothing here; send a correction"));
        if (raw.IsEmpty || raw is "\"\"")
        {
            _rows.Locate(field, at);
            return false;
        }

        _rows.Set(field, _unescape.Of(raw, _message), at);
        return true;
    }

    private void SetDay(Field field, int segment, int number)
    {
        var at = new Location(segment, number);
        var raw = _message.Value(segment, number);
        if (raw.IsEmpty || raw is "\"\"") Set(field, raw, at);
        else if (Hl7V2Time.TryRead(raw, out var time) && time.HasDay) _rows.Set(field, time.Write(stackalloc char[19], zone)[..10], at);
        else _rows.Fail(field, "is not a date (YYYYMMDD)", at, raw);
    }
}
