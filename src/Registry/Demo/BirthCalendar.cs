namespace Registry.Demo;

/// <summary>Spreads births over the region's days: fewer on Saturdays and Sundays (P), evenly over the hours.</summary>
internal static class BirthCalendar
{
    private static readonly int[] Weights = [75, 100, 102, 101, 101, 100, 80]; // Sunday first; O
    private static readonly int Week = Weights.Sum();

    /// <summary>The moment by which the given share of all births has happened. Later shares give later moments.</summary>
    /// <param name="first">First day.</param>
    /// <param name="share">In [0, 1).</param>
    public static DateTime At(DateOnly first, double share)
    {
        // Whole weeks weigh the same wherever they begin; the days left over are walked.
        var total = 0;
        for (var i = 0; i < DemoRegion.Days; i++) total += Weight(i % 7);
        var left = share * total;
        var day = (int)(left / Week) * 7;
        left -= day / 7 * Week;
        while (left >= Weight(day % 7)) left -= Weight(day++ % 7);
        return first.AddDays(day).ToDateTime(TimeOnly.MinValue).AddTicks((long)(left / Weight(day % 7) * 1440) * TimeSpan.TicksPerMinute);

        int Weight(int offset) => Weights[((int)first.DayOfWeek + offset) % 7];
    }
}
