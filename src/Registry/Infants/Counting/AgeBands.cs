using System.Globalization;

namespace Registry.Infants.Counting;

/// <summary>Ages at a test, in hours, as they are counted: each band is named by its first hour; an unknown age has no name.</summary>
public static class AgeBands
{
    public static readonly int[] From = [0, 6, 12, 18, 24, 30, 36, 42, 48, 72];

    public static string Of(double? hours) =>
        hours is { } h ? From.Last(from => from == 0 || from <= h).ToString("00", CultureInfo.InvariantCulture) : "";

    /// <summary>The same in SQL.</summary>
    public static string Sql(string hours) => string.Create(CultureInfo.InvariantCulture,
        $"coalesce(lpad((array[{string.Join(", ", From)}])[1 + "
            + $"width_bucket({hours}, array[{string.Join(", ", From.Skip(1))}]::float8[])]::text, 2, '0'), '')");

    /// <summary>The age below which half lie, as if ages were even within a band; null when none is known.</summary>
    /// <param name="infants">How many are in each band, by its name.</param>
    public static double? Median(IReadOnlyDictionary<string, int> infants)
    {
        var total = infants.Where(i => i.Key.Length > 0).Sum(i => i.Value);
        var below = 0;
        foreach (var (i, from) in From.Index())
        {
            var here = infants.GetValueOrDefault(Of(from));
            if (here > 0 && 2 * (below + here) >= total)
            {
                double width = i + 1 < From.Length ? From[i + 1] - from : 24;
                return from + (total / 2.0 - below) / here * width;
            }

            below += here;
        }

        return null;
    }
}
