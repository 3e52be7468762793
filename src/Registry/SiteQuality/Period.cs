using Registry.Infants.Counting;
using Registry.Platform;
using Registry.Rules.Facts;

namespace Registry.SiteQuality;

/// <summary>Days of test, or of birth, a page looks at, both included. Default: the twelve months that end on the as-of day.</summary>
public readonly record struct Period(DateOnly From, DateOnly To)
{
    /// <summary>Reads <c>?days=</c>; by the day of the test, unless asked otherwise.</summary>
    public static CountedDay Days(string? text) => Codes.TryParse<CountedDay>(text, out var days) ? days : CountedDay.Test;

    /// <summary>Reads <c>?from=&amp;to=</c>; what cannot be read, or ends before it starts, falls back to the default.</summary>
    public static Period Read(string? from, string? to, DateOnly asOf)
    {
        var last = AskedDay.Read(to) is { } t && t <= asOf ? t : asOf;
        var first = AskedDay.Read(from) ?? last.AddYears(-1).AddDays(1);
        return first <= last ? new Period(first, last) : new Period(last.AddYears(-1).AddDays(1), last);
    }
}
