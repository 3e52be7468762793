using Registry.Infants.List;
using Registry.Infants.Statuses;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>What became of the infants born at a site in some days, wherever they were tested.</summary>
/// <param name="Missed">Without a complete screen at the policy's deadline, of those whose deadline has passed; who died, moved or refused
/// is in neither.</param>
/// <param name="Lost">Lost at the diagnostic evaluation, to follow-up or to documentation, of those who need one.</param>
public sealed record BirthFigures(Proportion Missed, Proportion Lost)
{
    /// <summary>The query of <c>/infants</c> that lists <see cref="Missed"/>.</summary>
    public static readonly (string, object?)[] MissedQuery =
    [
        ("milestone", MilestoneKind.Screened), ("closed", "true"), ("state", MilestoneState.Late), ("state", MilestoneState.Missed),
    ];

    /// <summary>The query that lists <see cref="Lost"/>.</summary>
    public static readonly (string, object?)[] LostQuery = [("loss", "any"), ("lostAt", PathStep.Diagnosis)];

    /// <summary>Of several sites; null of none.</summary>
    public static BirthFigures? Sum(IEnumerable<BirthFigures> sites) => sites.Aggregate((BirthFigures?)null, (sum, one) => sum is null ? one
        : new(Add(sum.Missed, one.Missed), Add(sum.Lost, one.Lost)));

    private static Proportion Add(Proportion a, Proportion b) => new(a.Numerator + b.Numerator, a.Denominator + b.Denominator);

    public static BirthFigures Of(IReadOnlyCollection<CountedStatus<SiteId>> counted)
    {
        var due = counted.Where(c => c is { Counted: StatusFigure.Screened, Closed: true }).ToList();
        long Due(params MilestoneState[] states) =>
            due.Where(c => states.Contains(Codes.Parse<MilestoneState>(c.State))).Sum(c => c.Infants);

        return new(
            new(Due(MilestoneState.Late, MilestoneState.Missed), Due(MilestoneState.Met, MilestoneState.Late, MilestoneState.Missed)),
            new(counted.Where(c => c.Counted == StatusFigure.LostAt && c.State == Codes.Of(PathStep.Diagnosis)).Sum(c => c.Infants),
                counted.Where(c => c.Counted == StatusFigure.Diagnosed).Sum(c => c.Infants)));
    }
}

/// <summary>Reads what became of the infants born at each site, as of a day.</summary>
public sealed class ReadBirths(StatusSource statuses, ReadStatusCounts counts)
{
    private static readonly StatusFigure[] Asked = [StatusFigure.Screened, StatusFigure.Diagnosed, StatusFigure.LostAt];

    /// <returns>Sites where infants were born in the period, and all of them together; nothing for a past day whose statuses nobody had
    /// computed: a page of counts computes none.</returns>
    public async Task<(IReadOnlyDictionary<SiteId, BirthFigures> Sites, BirthFigures? Region)> RunAsync(
        Period born, DateOnly asOf, CancellationToken ct)
    {
        if (await statuses.IfKeptAsync(asOf, ct) is not { } kept) return (new Dictionary<SiteId, BirthFigures>(), null);
        var counted = await counts.BySiteAsync(kept, Asked, (born.From, born.To), ct);
        return (counted.GroupBy(c => c.By).ToDictionary(g => g.Key, g => BirthFigures.Of([.. g])), BirthFigures.Of(counted));
    }
}
