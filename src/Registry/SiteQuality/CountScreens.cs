using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>How attempts are grouped, by the name a URL has for it. The unit's text is a site id, an instrument, a Monday, …; empty when
/// it was not reported.</summary>
public enum ScreenGrouping { Site, Instrument, Probe, Screener, Method, Age, Week }

/// <summary>Counts of one group's birth-admission screening.</summary>
/// <param name="Unit">The group.</param>
public sealed record ScreenCounts(string Unit)
{
    /// <summary>Tests of one ear with an outcome.</summary>
    public required int Attempts { get; init; }

    /// <summary>Of them without a valid result; of these, for want of a seal, and for noise.</summary>
    public required int Invalid { get; init; }
    public required int NoSeal { get; init; }
    public required int Noise { get; init; }

    /// <summary>Attempts that referred.</summary>
    public required int EarRefers { get; init; }

    /// <summary>Infants with a valid result in both ears, or a refer; of them with a refer in an ear's last valid result.</summary>
    public required int InfantsConcluded { get; init; }
    public required int InfantsReferred { get; init; }

    /// <summary>Infants attempted.</summary>
    public required int Infants { get; init; }

    /// <summary>At the first attempt, of those with a birth time; how many these are, and how many of them were first tested before
    /// the policy's minimum age for the method.</summary>
    public required double? MedianAgeHours { get; init; }
    public required int InfantsWithAge { get; init; }
    public required int Early { get; init; }

    /// <summary>Infants referred at the end of the birth admission.</summary>
    public Proportion Refer => new(InfantsReferred, InfantsConcluded);

    /// <summary>Tests of one ear without a valid result.</summary>
    public Proportion InvalidTests => new(Invalid, Attempts);

    /// <summary>Refers among valid tests of one ear.</summary>
    public Proportion EarRefer => new(EarRefers, Attempts - Invalid);

    public Proportion EarlyFirst => new(Early, InfantsWithAge);
}

/// <summary>Counts birth-admission screening by site, instrument, probe, … over days of test, as known at a moment.</summary>
public sealed class CountScreens(NpgsqlDataSource source)
{
    private static readonly string Sql = EmbeddedSql.Of<CountScreens>();

    public async Task<IReadOnlyList<ScreenCounts>> ByAsync(ScreenGrouping grouping, ScreensAsked asked, CancellationToken ct)
    {
        await using var command = asked.Fill(source.CreateCommand(), Sql, grouping);
        await using var r = await command.ExecuteReaderAsync(ct);
        var counts = new List<ScreenCounts>();
        while (await r.ReadAsync(ct))
            counts.Add(new(r.GetString(0))
            {
                Attempts = r.GetInt32(1),
                Invalid = r.GetInt32(2),
                NoSeal = r.GetInt32(3),
                Noise = r.GetInt32(4),
                EarRefers = r.GetInt32(5),
                InfantsConcluded = r.GetInt32(6),
                InfantsReferred = r.GetInt32(7),
                Infants = r.GetInt32(8),
                MedianAgeHours = r.ValueOrNull<double>(9),
                InfantsWithAge = r.GetInt32(10),
                Early = r.GetInt32(11),
            });
        return counts;
    }
}
