using System.Globalization;
using Ical.Net.DataTypes;
using Ical.Net.Evaluation;
using Registry.Platform;
using Registry.Platform.Csv;
using Registry.Rules.Facts;

namespace Registry.Openings;

/// <summary>Reads a clinic's calendar: rows of a CSV, or the events of an iCalendar (RFC 5545), each event an opening. Of an event its time
/// is taken and nothing else: what is written in it may name somebody.</summary>
public sealed class ReadOpenings(ProgramClock clock)
{
    public static readonly IReadOnlyList<string> Columns = ["day", "time", "minutes", "capacity", "step"];

    /// <param name="text">What was sent.</param>
    /// <param name="capacity">How many may come to an event, which cannot say it.</param>
    /// <param name="step">What is done then, likewise.</param>
    /// <param name="problem">What is wrong with it; then nothing is read.</param>
    public IReadOnlyList<StatedOpening> Read(string text, int capacity, PathStep step, out string? problem) =>
        text.TrimStart('\uFEFF', ' ', '\r', '\n').StartsWith("BEGIN:VCALENDAR", StringComparison.OrdinalIgnoreCase)
            ? OfCalendar(text, capacity, step, out problem) : OfCsv(text, out problem);

    private static List<StatedOpening> OfCsv(string text, out string? problem)
    {
        if (ReadCsv.Rows(text, Columns.ToHashSet(), out problem) is not { } rows) return [];
        var read = new List<StatedOpening>();
        foreach (var row in rows)
        {
            if (Of(row.Cells) is not { } opening)
            {
                problem = OpeningWords.NotRead(row.Number);
                return [];
            }

            read.Add(opening);
        }

        return read;
    }

    private static StatedOpening? Of(IReadOnlyDictionary<string, string> cells)
    {
        if (!DateOnly.TryParseExact(cells.GetValueOrDefault("day"), "yyyy-MM-dd", out var day)
            || !TimeOnly.TryParseExact(cells.GetValueOrDefault("time"), "H:mm", CultureInfo.InvariantCulture, DateTimeStyles.None,
                out var time)
            || !int.TryParse(cells.GetValueOrDefault("minutes"), NumberStyles.None, CultureInfo.InvariantCulture, out var minutes)
            || !int.TryParse(cells.GetValueOrDefault("capacity"), NumberStyles.None, CultureInfo.InvariantCulture, out var capacity)
            || !Codes.TryParse<PathStep>(cells.GetValueOrDefault("step"), out var step)) return null;
        return new(day, time, minutes, capacity, step);
    }

    private List<StatedOpening> OfCalendar(string text, int capacity, PathStep step, out string? problem)
    {
        problem = null;
        if (text.Length > ReadCsv.MostCharacters)
        {
            problem = OpeningWords.HowMany;
            return [];
        }

        try
        {
            // A rule may repeat without end: so many of its days are looked at, of the weeks ahead.
            var (from, until) = (clock.Today.ToDateTime(default), clock.Today.AddDays(StateOpenings.MostDaysAhead).ToDateTime(default));
            var read = Ical.Net.Calendar.Load(text)?.Events
                .Where(e => e.IsActive && e.Start is { HasTime: true })
                .SelectMany(e => e.GetOccurrences(new CalDateTime(from), new EvaluationOptions { MaxUnmatchedIncrementsLimit = 1_000 })
                    .Take(StateOpenings.Most + 1).Select(o => Of(o, capacity, step)))
                .Where(o => o.OpensOn.ToDateTime(o.StartsAt) >= from && o.OpensOn.ToDateTime(o.StartsAt) < until)
                .Distinct().OrderBy(o => o.OpensOn).ThenBy(o => o.StartsAt).Take(StateOpenings.Most + 1).ToList() ?? [];
            if (read.Count == 0) problem = OpeningWords.NoEvents;
            return read;
        }
        catch (Exception e) when (e is not OutOfMemoryException)
        {
            // Whatever the library cannot read of somebody's file.
            problem = OpeningWords.NoCalendar;
            return [];
        }
    }

    private StatedOpening Of(Occurrence occurrence, int capacity, PathStep step)
    {
        var (start, end) = (Local(occurrence.Period.StartTime), occurrence.Period.EffectiveEndTime);
        return new(DateOnly.FromDateTime(start), TimeOnly.FromDateTime(start),
            end is null ? 0 : (int)Math.Clamp((Local(end) - start).TotalMinutes, 0, int.MaxValue), capacity, step);
    }

    /// <summary>A time of a zone as it is here; a floating one is meant as it stands (RFC 5545, 3.3.5).</summary>
    private DateTime Local(CalDateTime time) => time.IsFloating ? time.Value
        : TimeZoneInfo.ConvertTimeFromUtc(DateTime.SpecifyKind(time.AsUtc, DateTimeKind.Utc), clock.Zone);
}
