using System.Globalization;
using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>Reads single fields of one row; what cannot be read becomes a problem naming the column and what is expected.</summary>
internal readonly ref partial struct ReadFields(
    RowBatch batch, int row, DateOnly receivedOn, TimeZoneInfo zone, List<Problem> problems)
{
    private const string DateForm = "is not a date (yyyy-MM-dd)";

    public string? String(Field field, int maxLength)
    {
        var text = batch.Text(row, field);
        if (text.IsEmpty) return null;
        if (text.Length <= maxLength) return text.ToString();
        problems.Add(new(field, $"is longer than {maxLength} characters"));
        return null;
    }

    public T? RequiredCode<T>(Field field) where T : struct, Enum => Required(field) ? Code<T>(field) : null;

    public T Code<T>(Field field, T notStated) where T : struct, Enum => Code<T>(field) ?? notStated;

    public T? Code<T>(Field field) where T : struct, Enum
    {
        var text = batch.Text(row, field);
        if (text.IsEmpty) return null;
        if (Codes.TryParse<T>(text, out var value)) return value;
        problems.Add(new(field, $"unknown code; it is one of: {string.Join(", ", Codes.All<T>())}"));
        return null;
    }

    public int? Int(Field field, int min, int max)
    {
        var text = batch.Text(row, field);
        if (text.IsEmpty) return null;
        if (!int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var value))
            problems.Add(new(field, "is not a whole number"));
        else if (value < min || value > max)
            problems.Add(new(field, $"is not between {min} and {max}"));
        else
            return value;
        return null;
    }

    public bool? Bool(Field field) => batch.Text(row, field) switch
    {
        [] => null,
        ['1'] => true,
        ['0'] => false,
        var t when t.Equals("true", StringComparison.OrdinalIgnoreCase) || t.Equals("yes", StringComparison.OrdinalIgnoreCase) => true,
        var t when t.Equals("false", StringComparison.OrdinalIgnoreCase) || t.Equals("no", StringComparison.OrdinalIgnoreCase) => false,
        _ => NoBool(field),
    };

    public TimeOnly? Time(Field field)
    {
        var text = batch.Text(row, field);
        if (text.IsEmpty) return null;
        if (TryTime(text, out var time)) return time;
        problems.Add(new(field, "is not a time (HH:mm or HH:mm:ss)"));
        return null;
    }

    /// <summary>A date that may not be after the day the submission was received.</summary>
    public DateOnly? Past(Field field)
    {
        var date = Date(field);
        if (date <= receivedOn || date is null) return date;
        problems.Add(new(field, "is in the future"));
        return null;
    }

    public DateOnly? RequiredPast(Field field) => Required(field) ? Past(field) : null;

    public DateOnly? Date(Field field)
    {
        var text = batch.Text(row, field);
        if (text.IsEmpty) return null;
        if (!TryDate(text, out var date)) problems.Add(new(field, Impossible(text) ? "is not a day of the calendar" : DateForm));
        else if (date.Year < 1900) problems.Add(new(field, "is before 1900"));
        else return date;
        return null;
    }

    public DateTime? RequiredPastDateTime(Field field)
    {
        if (!Required(field)) return null;
        var text = batch.Text(row, field);
        if (text.Length < 16 || text[10] is not ('T' or 't' or ' ') || !TryTime(text[11..], out var time))
            problems.Add(new(field, "is not a local date and time (yyyy-MM-ddTHH:mm, without offset)"));
        else if (!TryDate(text[..10], out var date))
            problems.Add(new(field, Impossible(text[..10]) ? "is not a day of the calendar"
                : "is not a local date and time (yyyy-MM-ddTHH:mm, without offset)"));
        else if (date > receivedOn)
            problems.Add(new(field, "is in the future"));
        else if (date.Year < 1900)
            problems.Add(new(field, "is before 1900"));
        else
            return Existing(field, date, time)?.At;
        return null;
    }

    /// <summary>A local time the clocks skipped when they went forward is none: it would shift an age by an hour. One that comes twice is
    /// taken as standard time, its second coming, wherever hours are counted.</summary>
    public (DateTime At, TimeOnly Time)? Existing(Field field, DateOnly date, TimeOnly time)
    {
        var at = date.ToDateTime(time);
        if (!zone.IsInvalidTime(at)) return (at, time);
        problems.Add(new(field, "does not exist: clocks went forward over this hour"));
        return null;
    }

    public bool Required(Field field)
    {
        if (!batch.Text(row, field).IsEmpty) return true;
        // A cell that could not be read at all already has its problem.
        var code = Codes.Of(field);
        if (!problems.Exists(p => p.Field == code)) problems.Add(new(code, "is required"));
        return false;
    }

    public bool IsStated(Field field) => !batch.Text(row, field).IsEmpty;

    private bool? NoBool(Field field)
    {
        problems.Add(new(field, "is not true or false"));
        return null;
    }

    private static bool TryDate(ReadOnlySpan<char> text, out DateOnly date)
    {
        date = default;
        if (text.Length != 10 || text[4] != '-' || text[7] != '-') return false;
        if (!Digits(text[..4], out var year) || !Digits(text[5..7], out var month) || !Digits(text[8..], out var day)) return false;
        if (year == 0 || month is 0 or > 12 || day == 0 || day > DateTime.DaysInMonth(year, month)) return false;
        date = new(year, month, day);
        return true;
    }

    /// <summary>Looks like a date, but there is no such day.</summary>
    private static bool Impossible(ReadOnlySpan<char> text) =>
        text.Length == 10 && text[4] == '-' && text[7] == '-'
        && Digits(text[..4], out _) && Digits(text[5..7], out _) && Digits(text[8..], out _);

    private static bool TryTime(ReadOnlySpan<char> text, out TimeOnly time)
    {
        time = default;
        if (text.Length is not (5 or 8) || text[2] != ':' || (text.Length == 8 && text[5] != ':')) return false;
        var seconds = 0;
        if (!Digits(text[..2], out var hours) || !Digits(text[3..5], out var minutes)
            || (text.Length == 8 && !Digits(text[6..], out seconds))) return false;
        if (hours > 23 || minutes > 59 || seconds > 59) return false;
        time = new(hours, minutes, seconds);
        return true;
    }

    private static bool Digits(ReadOnlySpan<char> text, out int value)
    {
        value = 0;
        foreach (var c in text)
        {
            if (!char.IsAsciiDigit(c)) return false;
            value = (value * 10) + (c - '0');
        }

        return true;
    }
}
