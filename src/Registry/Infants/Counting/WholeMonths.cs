using Npgsql;

namespace Registry.Infants.Counting;

/// <summary>
/// Days from one to another as the whole months among them, and the days before and after these: what is kept by day and by month is read
/// from as few rows as there are.
/// </summary>
/// <param name="Before">The last day before the first whole month.</param>
/// <param name="First">The first day of the whole months.</param>
/// <param name="Last">Their last day; before <paramref name="First"/> when there is none.</param>
/// <param name="After">The first day after them.</param>
public readonly record struct WholeMonths(DateOnly Before, DateOnly First, DateOnly Last, DateOnly After)
{
    // Nothing is counted outside of these, and months can be added to them.
    private static readonly DateOnly Earliest = new(1900, 1, 1), Latest = new(2999, 12, 31);

    public static WholeMonths Between(DateOnly from, DateOnly to)
    {
        var (first, last) = (Within(from), Within(to));
        if (first.Day > 1) first = FirstDay(first).AddMonths(1);
        if (last.AddDays(1).Day > 1) last = FirstDay(last).AddDays(-1);
        return first <= last ? new(first.AddDays(-1), first, last, last.AddDays(1)) : None(to);
    }

    /// <summary>Every day by itself.</summary>
    public static WholeMonths None(DateOnly to) => new(to, Latest, Earliest, DateOnly.MaxValue);

    public static DateOnly FirstDay(DateOnly ofMonth) => new(ofMonth.Year, ofMonth.Month, 1);

    /// <summary>As the statements that read counts name them.</summary>
    public void Bind(NpgsqlCommand command)
    {
        var p = command.Parameters;
        p.AddWithValue("before", Before);
        p.AddWithValue("first", First);
        p.AddWithValue("last", Last);
        p.AddWithValue("after", After);
    }

    private static DateOnly Within(DateOnly day) => day < Earliest ? Earliest : day > Latest ? Latest : day;
}
