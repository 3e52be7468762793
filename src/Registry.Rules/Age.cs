using Registry.Rules.Facts;

namespace Registry.Rules;

/// <summary>Chronological age. Both moments are local times of the program's region.</summary>
public static class Age
{
    /// <summary>Whole days after the birth date: 0 on the day of birth; negative before it.</summary>
    public static int Days(DateOnly born, DateOnly on) => on.DayNumber - born.DayNumber;

    /// <summary>Completed calendar months: n from the day <c>born.AddMonths(n)</c> on (a missing day falls on the month's last).</summary>
    public static int Months(DateOnly born, DateOnly on)
    {
        var months = 12 * (on.Year - born.Year) + on.Month - born.Month;
        return born.AddMonths(months) <= on ? months : months - 1;
    }

    /// <summary>Hours since birth, as they passed; null when the time of birth was not reported.</summary>
    public static double? Hours(in Birth birth, DateTime at, TimeZoneInfo zone) =>
        birth.Time is { } time ? Elapsed(birth.Date.ToDateTime(time), at, zone).TotalHours : null;

    /// <summary>The time that passed between two local times. Where clocks changed in between, that is not their difference. An hour that
    /// comes twice is taken as standard time, its second coming; one that never comes (refused at intake) as standard time too.</summary>
    public static TimeSpan Elapsed(DateTime from, DateTime to, TimeZoneInfo zone) =>
        zone.SupportsDaylightSavingTime || zone.BaseUtcOffset != TimeSpan.Zero
            ? to - from - (zone.GetUtcOffset(to) - zone.GetUtcOffset(from))
            : to - from;

    /// <summary>Post-menstrual age in days; null when the weeks of gestation were not reported.</summary>
    public static int? PostMenstrualDays(in Birth birth, DateOnly on) =>
        birth.GestationWeeks is { } weeks ? 7 * weeks + Days(birth.Date, on) : null;
}
