namespace Registry.Rules;

/// <summary>
/// The as-of day. Every comparison with it goes through <see cref="Reached"/>, which also keeps the soonest later day on
/// which a comparison made would come out differently: until then no branch, and so no conclusion, can change.
/// </summary>
internal struct Day(DateOnly asOf)
{
    public readonly DateOnly AsOf = asOf;

    /// <summary>Soonest later day that was asked about; <see cref="DateOnly.MaxValue"/> when none.</summary>
    public DateOnly Next = DateOnly.MaxValue;

    /// <summary>Whether <paramref name="day"/> has come.</summary>
    public bool Reached(DateOnly day)
    {
        if (day <= AsOf) return true;
        if (day < Next) Next = day;
        return false;
    }

    /// <summary>Whether <paramref name="lastDay"/> is over.</summary>
    public bool Past(DateOnly lastDay) => lastDay < DateOnly.MaxValue && Reached(lastDay.AddDays(1));
}
