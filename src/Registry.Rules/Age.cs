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

    /// <summary>Hours since birth; null when the time of birth was not reported.</summary>
    public static double? Hours(in Birth birth, DateTime at) =>
        birth.Time is { } time ? (at - birth.Date.ToDateTime(time)).TotalHours : null;
}
