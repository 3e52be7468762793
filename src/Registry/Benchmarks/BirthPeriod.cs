using System.Globalization;

namespace Registry.Benchmarks;

public enum BirthPeriodKind { LastTwelveMonths, Quarter, Year, Own }

/// <summary>Days of birth the overview counts, both included.</summary>
/// <param name="Code">As in the URL: <c>last-12-months</c>, <c>2026-q3</c>, <c>2026</c> or <c>own</c>.</param>
public sealed record BirthPeriod(BirthPeriodKind Kind, string Code, DateOnly From, DateOnly To)
{
    /// <summary>The twelve months up to a day, the five quarters and the three years it lies in or after.</summary>
    public static IReadOnlyList<BirthPeriod> Offered(DateOnly asOf)
    {
        var offered = new List<BirthPeriod> { new(BirthPeriodKind.LastTwelveMonths, "last-12-months", YearBefore(asOf), asOf) };
        var first = new DateOnly(asOf.Year, (asOf.Month - 1) / 3 * 3 + 1, 1);
        for (var i = 0; i < 5; i++, first = first.AddMonths(-3))
            offered.Add(new(BirthPeriodKind.Quarter, FormattableString.Invariant($"{first.Year}-q{(first.Month + 2) / 3}"),
                first, first.AddMonths(3).AddDays(-1)));
        for (var year = asOf.Year; year > asOf.Year - 3; year--)
            offered.Add(new(BirthPeriodKind.Year, year.ToString(CultureInfo.InvariantCulture), new(year, 1, 1), new(year, 12, 31)));
        return offered;
    }

    /// <summary>The one asked for: an offered one by its code, or days of one's own; else the first offered.</summary>
    public static BirthPeriod Choose(string? code, DateOnly? from, DateOnly? to, DateOnly asOf)
    {
        var offered = Offered(asOf);
        if (offered.FirstOrDefault(p => p.Code == code) is { } chosen) return chosen;
        if (code != "own" || (from is null && to is null)) return offered[0];
        return new(BirthPeriodKind.Own, "own", from ?? YearBefore(to!.Value), to ?? asOf);
    }

    private static DateOnly YearBefore(DateOnly last) => last.AddYears(-1).AddDays(1);
}
