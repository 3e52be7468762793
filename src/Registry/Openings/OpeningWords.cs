using System.Globalization;
using Registry.Ui;

namespace Registry.Openings;

/// <summary>What pages say of clinics' openings.</summary>
public static class OpeningWords
{
    public const string Day = "Each day is from today on, at most a year ahead.";
    public const string Length = "An opening lasts from 5 minutes to 8 hours.";
    public const string Capacity = "From 1 to 50 children can come to an opening.";
    public const string Step = "An opening is for a screening or for a diagnosis.";
    public const string HowMany = "State at least one opening, and at most 1,000 at once.";
    public const string NotUnderstood = "Fill in the day, the time, the minutes and how many children can come. Nothing was saved.";
    public const string NoFile = "Choose a file, or paste its rows.";
    public const string NoEvents = "The calendar holds no event with a time in the year ahead.";
    public const string NoCalendar = "The file is no calendar that can be read (iCalendar, RFC 5545). Nothing was saved.";
    public const string Withdrawn = "Withdrawn. It is offered no more; who was booked into it keeps the appointment: call them.";
    public const string NotWithdrawn = "There is no such opening of yours that stands.";
    public const string NoName = "No name or number";
    public const string Chosen = "Choose an opening, or state a day.";

    public static string Added(StatedAnswer answer, int stated) => answer.Added == stated
        ? $"{Words.Count(answer.Added, "opening")} added."
        : $"{Words.Count(answer.Added, "opening")} added; {stated - answer.Added} stood already.";

    public static string NotRead(int line) =>
        $"Line {line.ToString(CultureInfo.InvariantCulture)} cannot be read: a day like 2026-12-03, a time like 10:30, whole "
            + "minutes and a whole capacity, and the step screening or diagnosis. Nothing was saved.";

    public static string At(StatedOpening opening) =>
        $"{Words.Date(opening.OpensOn)}, {opening.StartsAt.ToString("HH:mm", CultureInfo.InvariantCulture)}";

    public static string Of(OpeningLine line) =>
        $"{Words.Of((Enum)line.Opening.Step)}, {Words.Count(line.Opening.Minutes, "minute")}";
}
