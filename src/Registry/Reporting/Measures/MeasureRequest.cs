using System.Globalization;
using Registry.Platform;
using Registry.Rules.Facts;
using Registry.Rules.Measures;

namespace Registry.Reporting.Measures;

/// <summary>What figures are asked for: births of a period, as of a day, as known at a moment, broken down.</summary>
/// <param name="From">First birth date.</param>
/// <param name="To">Last birth date.</param>
/// <param name="AsOf">Nothing that happened later counts.</param>
/// <param name="KnownAt">Nothing recorded later counts.</param>
/// <param name="VitalBirths">Births in vital records for the period, for the survey's second percentage; not known to the registry.</param>
public sealed record MeasureRequest(
    DateOnly From, DateOnly To, DateOnly AsOf, DateTimeOffset KnownAt, Breakdown Breakdown, int? VitalBirths)
{
    public const int LongestYears = 12;

    /// <summary>Whether facts are counted as known at the end of the as-of day (or by now, today): the ordinary case.</summary>
    public bool KnownAsOf(ProgramClock clock) => KnownAt == DefaultKnownAt(AsOf, clock);

    /// <summary>
    /// Reads the query <c>from, to, asOf, knownAt, breakdown, vitalBirths</c>. Absent: the births of the calendar year of the
    /// as-of date, as of today, as known at the end of the as-of day, not broken down.
    /// </summary>
    /// <returns>The request, or what is wrong by field.</returns>
    public static (MeasureRequest? Request, Dictionary<string, string[]> Problems) Read(IQueryCollection query, ProgramClock clock)
    {
        var problems = new Dictionary<string, string[]>();
        var asOf = Date("asOf") ?? clock.Today;
        if (asOf > clock.Today) problems["asOf"] = [$"The as-of date lies in the future; today is {Iso(clock.Today)}."];
        var from = Date("from") ?? new DateOnly(asOf.Year, 1, 1);
        var to = Date("to") ?? (from.Year == asOf.Year ? asOf : new DateOnly(from.Year, 12, 31));
        if (to < from) problems["to"] = ["The last birth date lies before the first."];
        else if (to >= from.AddYears(LongestYears)) problems["to"] = [$"At most {LongestYears} years of births at once."];
        if (from > asOf) problems["from"] = ["No infant of this period is born on the as-of date."];

        var breakdown = Breakdown.None;
        if (Text("breakdown") is { } group && !Codes.TryParse(group, out breakdown))
            problems["breakdown"] = [$"Not one of: {string.Join(", ", Codes.All<Breakdown>())}."];

        int? vital = null;
        if (Text("vitalBirths") is { } births)
        {
            if (int.TryParse(births, NumberStyles.None, CultureInfo.InvariantCulture, out var n) && n > 0) vital = n;
            else problems["vitalBirths"] = ["A whole number above zero, or left out."];
        }

        var known = problems.ContainsKey("asOf") ? clock.Now : DefaultKnownAt(asOf, clock);
        if (Text("knownAt") is { } moment)
        {
            if (AskedDay.TryRead(moment, out var day))
                known = day < clock.Today ? clock.EndOf(day) : clock.Now;
            else if (DateTimeOffset.TryParse(moment, CultureInfo.InvariantCulture,
                DateTimeStyles.AssumeUniversal | DateTimeStyles.AdjustToUniversal, out var instant) && AskedDay.IsWithin(instant))
                known = instant;
            else
                problems["knownAt"] = ["A date (its end is meant) or an instant such as 2026-03-31T12:00:00Z."];
            if (known > clock.Now) problems["knownAt"] = ["Lies in the future."];
        }

        return problems.Count > 0 ? (null, problems) : (new(from, to, asOf, known, breakdown, vital), problems);

        string? Text(string name) => query[name].ToString() is { Length: > 0 } text ? text : null;

        DateOnly? Date(string name)
        {
            if (Text(name) is not { } text) return null;
            if (AskedDay.TryRead(text, out var date)) return date;
            problems[name] = ["A date reads year-month-day, like 2026-03-31."];
            return null;
        }
    }

    internal static string Iso(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);

    private static DateTimeOffset DefaultKnownAt(DateOnly asOf, ProgramClock clock) => asOf < clock.Today ? clock.EndOf(asOf) : clock.Now;
}
