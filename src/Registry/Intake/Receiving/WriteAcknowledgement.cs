using System.Buffers;
using System.Globalization;
using System.Text;
using Registry.Intake.Formats.Hl7V2;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.Receiving;

/// <summary>
/// Writes the acknowledgement of one message: <c>MSH MSA [ERR…]</c>, with the message's own delimiters, version and character set. AA:
/// taken in, and whatever waits for a person is named. AE: something in it was rejected; correct it and send again. AR: nothing of it was
/// taken in.
/// </summary>
/// <remarks>HL7 v2.x chapter 2.9 and 2.15 (MSA, ERR; tables 0008, 0357, 0516). Before 2.5 an ERR segment has one field, ERR-1. A sender
/// that asks for a commit acknowledgement only (MSH-15 AL, SU or ER, MSH-16 NE) gets CA, CE, CR in their place.</remarks>
public sealed class WriteAcknowledgement(IBufferWriter<byte> to, TimeZoneInfo zone)
{
    private const int Held = 0;
    private static readonly string StillWaiting = Codes.Of(RowOutcome.StillWaiting);
    private static readonly string Accepted = Codes.Of(RowOutcome.Accepted);
    private const int MaxErrors = 100;

    /// <summary>ERR-5: a rule of the registry is broken, by values that are well formed. Table 0533 is the application's own.</summary>
    private const string Rule = "rule";

    private readonly record struct Error(Location? At, int Code, char Severity, string Text, bool IsRule = false);

    /// <summary>The answer to a message whose rows have their outcomes.</summary>
    public void Of(MapMessage map, IReadOnlyList<RowReport> rows, DateTimeOffset now)
    {
        var errors = new List<Error>();
        foreach (var (i, row) in rows.Index())
        {
            foreach (var problem in row.Problems)
            {
                var text = problem.Field is null || problem.Field == Codes.Of(Field.Kind)
                    ? problem.Reason : $"{problem.Field} {problem.Reason}";
                var (of, isRule) = map.Rows.IsRefused && errors.Count == 0 ? (map.Rows.RefusalCode, false) : CodeOf(problem);
                var severity = row.Outcome == Accepted ? 'W' : 'E';
                errors.Add(new(map.Rows.Find(i, problem), of, severity, text, isRule));
            }

            if (row.HeldReason is { } reason)
            {
                var words = Codes.TryParse<HoldReason>(reason, out var hold) ? IntakeWords.Of(hold) : reason;
                errors.Add(new(map.Rows.AnchorOf(i), Held, 'W', $"{row.Kind} is kept and waits: {words}"));
            }
            else if (row.Outcome == StillWaiting)
            {
                errors.Add(new(map.Rows.AnchorOf(i), Held, 'W', $"{row.Kind} was sent before and is still waiting"));
            }
        }

        var code = map.Rows.IsRefused ? 'R' : errors.Exists(e => e.Severity == 'E') ? 'E' : 'A';
        errors.AddRange(map.Rows.Remarks.Select(r => new Error(r.At, r.Code, r.Severity, r.Text)));
        Write(map.Message, code, errors, now);
    }

    /// <summary>The answer to bytes of which nothing was taken in: they cannot be read, or we are at fault.</summary>
    public void Rejected(MapMessage map, int code, string reason, DateTimeOffset now, Location? at = null) =>
        Write(map.Message, 'R', [new(at, code, 'E', reason)], now);

    /// <summary>A header or trailer of a batch.</summary>
    public void Envelope(string segment, IEnumerable<string> fields) => Text($"{segment}|{string.Join('|', fields)}\r", Encoding.ASCII);

    private void Write(Hl7V2Message m, char code, List<Error> errors, DateTimeOffset now)
    {
        var d = m.Delimiters;
        var old = m.Value(0, 12) is "2.3.1" or "2.4";
        var commit = m.Value(0, 15) is "AL" or "SU" or "ER" && m.Value(0, 16) is "NE";
        var said = old && errors.Count > 0 ? d.Field + Escape(errors[0].Text, d) : "";
        Text($"{Header(m, now)}\rMSA{d.Field}{(commit ? 'C' : 'A')}{code}{d.Field}{Echo(m, 10)}{said}\r", m.Encoding);
        if (errors.Count == 0) return;
        if (old)
        {
            var all = errors.Take(MaxErrors).Select(e => string.Join(d.Component, Place(m, e.At, d, 3), Meaning(e.Code, d.Subcomponent)));
            Text($"ERR{d.Field}{string.Join(d.Repetition, all)}\r", m.Encoding);
            return;
        }

        foreach (var e in errors.Take(MaxErrors)) Text(Segment(m, e), m.Encoding);
    }

    /// <summary>MSH: sender and receiver exchanged; version, processing id and character set are the message's.</summary>
    private string Header(Hl7V2Message m, DateTimeOffset now)
    {
        var d = m.Delimiters;
        var at = TimeZoneInfo.ConvertTime(now, zone);
        var offset = at.ToString("zzz", CultureInfo.InvariantCulture).Replace(":", "", StringComparison.Ordinal);
        var trigger = m.Value(0, 9, 2);
        var type = trigger.Length is 0 or > 3 ? "ACK" : $"ACK{d.Component}{trigger}{d.Component}ACK";
        var processing = Echo(m, 11) is { Length: > 0 } stated ? stated : "P";
        var version = Echo(m, 12) is { Length: > 0 } same ? same : "2.5.1";
        var characters = m.StatedCharacterSet is { Length: > 0 } set ? new string(d.Field, 6) + set : "";
        return string.Join(
            d.Field, $"MSH{d.Field}{d.EncodingCharacters}", Echo(m, 5), Echo(m, 6), Echo(m, 3), Echo(m, 4),
            at.ToString("yyyyMMddHHmmss", CultureInfo.InvariantCulture) + offset, "", type, Guid.CreateVersion7().ToString("N")[..20],
            processing, version) + characters;
    }

    /// <summary>ERR since 2.5: place, code, severity, whether it is a rule of the registry, and words.</summary>
    private static string Segment(Hl7V2Message m, Error e)
    {
        var d = m.Delimiters;
        var rule = e.IsRule ? string.Join(d.Component, Rule, "a rule of the registry is broken", MapMessage.OwnSystem) : "";
        return string.Join(
            d.Field, "ERR", "", Place(m, e.At, d, 6), Meaning(e.Code, d.Component), e.Severity, rule, "", "", Escape(e.Text, d)) + "\r";
    }

    /// <summary>A code of table 0357 with its name.</summary>
    private static string Meaning(int code, char separator) => string.Join(separator, code, NameOf(code), "HL70357");

    /// <summary>Segment, which one of its name, field, repetition, component (ERL), as far as known.</summary>
    private static string Place(Hl7V2Message m, Location? location, Delimiters d, int parts)
    {
        if (location is not { } at || at.Segment >= m.SegmentCount) return parts == 3 ? $"{d.Component}{d.Component}" : "";
        List<string> place = [m.Name(at.Segment).ToString(), m.SequenceOf(at.Segment).ToString(CultureInfo.InvariantCulture)];
        foreach (var number in (ReadOnlySpan<int>)[at.Field, at.Repetition, at.Component])
        {
            if (number == 0 || place.Count == parts) break;
            place.Add(number.ToString(CultureInfo.InvariantCulture));
        }

        while (parts == 3 && place.Count < 3) place.Add("");
        return string.Join(d.Component, place);
    }

    /// <summary>HL7 table 0357 by what is wrong; 207 is kept for faults of ours. A value that is well formed and breaks a rule all the same
    /// is told as the nearest of the table (103 for a coded column, else 102), and as a rule.</summary>
    private static (int Code, bool IsRule) CodeOf(Problem problem)
    {
        var reason = problem.Reason;
        if (reason.Contains("segment sequence", StringComparison.Ordinal)) return (100, false);
        if (reason.StartsWith("MSH-9 names", StringComparison.Ordinal)) return (201, false);
        if (reason.StartsWith("MSH-11", StringComparison.Ordinal)) return (202, false);
        if (reason.StartsWith("MSH-12", StringComparison.Ordinal)) return (203, false);
        if (reason.Contains("is required", StringComparison.Ordinal) || reason.StartsWith("says too little", StringComparison.Ordinal))
            return (101, false);
        if (reason.StartsWith("unknown code", StringComparison.Ordinal) || reason.StartsWith("nothing here", StringComparison.Ordinal))
            return (103, false);
        if (IllFormed.Any(start => reason.StartsWith(start, StringComparison.Ordinal))) return (102, false);
        return (Codes.TryParse<Field>(problem.Field, out var field) && Coded.Contains(field) ? 103 : 102, true);
    }

    private static readonly string[] IllFormed = ["is not a", "is not in s", "is not in g", "is not in weeks", "is not in mL",
        "is not in dB", "is not in 1", "has no unit", "states no time", "is longer than", "holds a control"];

    private static readonly Field[] Coded = [Field.Action, Field.Ear, Field.Outcome, Field.Method, Field.Reason, Field.Stage, Field.Sex,
        Field.Plurality, Field.Indicator];

    public static string NameOf(int code) => code switch
    {
        0 => "Message accepted",
        100 => "Segment sequence error",
        101 => "Required field missing",
        102 => "Data type error",
        103 => "Table value not found",
        200 => "Unsupported message type",
        201 => "Unsupported event code",
        202 => "Unsupported processing id",
        203 => "Unsupported version id",
        204 => "Unknown key identifier",
        205 => "Duplicate key identifier",
        206 => "Application record locked",
        _ => "Application internal error",
    };

    /// <summary>A field of the message's header, as it stands: the reply uses the same delimiters.</summary>
    private static string Echo(Hl7V2Message m, int field) => m.SegmentCount == 0 ? "" : m.Field(0, field) is { Length: <= 250 } text
        ? text.ToString() : "";

    private static string Escape(string text, Delimiters d)
    {
        var escaped = new StringBuilder(text.Length + 8);
        foreach (var c in text)
        {
            if (c == d.Escape) escaped.Append(d.Escape).Append('E').Append(d.Escape);
            else if (c == d.Field) escaped.Append(d.Escape).Append('F').Append(d.Escape);
            else if (c == d.Component) escaped.Append(d.Escape).Append('S').Append(d.Escape);
            else if (c == d.Repetition) escaped.Append(d.Escape).Append('R').Append(d.Escape);
            else if (c == d.Subcomponent) escaped.Append(d.Escape).Append('T').Append(d.Escape);
            else escaped.Append(c is '\r' or '\n' ? ' ' : c);
        }

        return escaped.ToString();
    }

    private void Text(string text, Encoding encoding) => encoding.GetBytes(text.AsSpan(), to);
}
