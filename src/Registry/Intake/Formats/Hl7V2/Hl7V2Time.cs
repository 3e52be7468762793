using System.Globalization;

namespace Registry.Intake.Formats.Hl7V2;

/// <summary>A time stamp (TS, DTM): <c>YYYY[MM[DD[HH[MM[SS[.S…]]]]]][+/-ZZZZ]</c>, HL7 v2.x chapter 2A.</summary>
public readonly ref struct Hl7V2Time
{
    private readonly ReadOnlySpan<char> _digits;

    private Hl7V2Time(ReadOnlySpan<char> digits, TimeSpan? offset)
    {
        _digits = digits;
        Offset = offset;
    }

    public TimeSpan? Offset { get; }

    /// <summary>Year, month and day are stated.</summary>
    public bool HasDay => _digits.Length >= 8;

    /// <summary>At least hour and minute are stated.</summary>
    public bool HasTime => _digits.Length >= 12;

    public static bool TryRead(ReadOnlySpan<char> text, out Hl7V2Time time)
    {
        time = default;
        TimeSpan? offset = null;
        var sign = text.IndexOfAny('+', '-');
        if (sign >= 0)
        {
            var zone = text[(sign + 1)..];
            if (zone.Length != 4 || !Digits(zone, out var hhmm) || hhmm % 100 > 59 || hhmm > 1400) return false;
            var span = new TimeSpan(hhmm / 100, hhmm % 100, 0);
            offset = text[sign] == '-' ? -span : span;
            text = text[..sign];
        }

        var dot = text.IndexOf('.');
        if (dot >= 0)
        {
            if (dot != 14 || text.Length is 15 or > 19 || !Digits(text[15..], out _)) return false;
            text = text[..14];
        }

        if (text.Length is not (4 or 6 or 8 or 10 or 12 or 14) || text.ContainsAnyExceptInRange('0', '9')) return false;
        time = new(text, offset);
        return true;
    }


    /// <summary>The local time, <c>yyyy-MM-ddTHH:mm[:ss]</c>; an offset other than the zone's is reckoned to the zone's. A day the
    /// calendar does not have is passed on as it is: whoever reads it says so.</summary>
    public ReadOnlySpan<char> Write(Span<char> to, TimeZoneInfo zone)
    {
        Span<char> local = stackalloc char[14];
        scoped var digits = _digits;
        if (Offset is { } offset && HasTime
            && DateTime.TryParseExact(digits, digits.Length == 12 ? "yyyyMMddHHmm" : "yyyyMMddHHmmss", CultureInfo.InvariantCulture,
                DateTimeStyles.None, out var at)
            && at.Year is > 1 and < 9999)
        {
            var there = TimeZoneInfo.ConvertTime(new DateTimeOffset(at, offset), zone).DateTime;
            if (there.TryFormat(local, out var written, digits.Length == 12 ? "yyyyMMddHHmm" : "yyyyMMddHHmmss",
                CultureInfo.InvariantCulture))
                digits = local[..written];
        }

        digits[..4].CopyTo(to);
        to[4] = '-';
        digits[4..6].CopyTo(to[5..]);
        to[7] = '-';
        digits[6..8].CopyTo(to[8..]);
        if (!HasTime) return to[..10];
        to[10] = 'T';
        digits[8..10].CopyTo(to[11..]);
        to[13] = ':';
        digits[10..12].CopyTo(to[14..]);
        if (digits.Length == 12) return to[..16];
        to[16] = ':';
        digits[12..14].CopyTo(to[17..]);
        return to[..19];
    }

    private static bool Digits(ReadOnlySpan<char> text, out int value)
    {
        value = 0;
        return !text.ContainsAnyExceptInRange('0', '9') && int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out value);
    }
}
