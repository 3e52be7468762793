using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Screening;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>A site's reported outcomes beside the criteria it states: each compared test by its id.</summary>
public sealed record ComparedOutcomes(IReadOnlyDictionary<Guid, CriterionResult> Tests)
{
    /// <summary>What a list of tests may be asked to show, by the name in the URL; "differs" is all the kinds of difference.</summary>
    public static readonly (string Show, Func<CriterionResult, bool> Is)[] Shows =
    [
        ("compared", _ => true),
        ("differs", r => r.Differs),
        ("pass_below_criterion", r => r.Finding == CriterionFinding.PassBelowCriterion),
        ("pass_with_too_few_bands", r => r.Finding == CriterionFinding.PassWithTooFewBands),
        ("refer_meets_criterion", r => r.Finding == CriterionFinding.ReferMeetsCriterion),
    ];

    public Proportion Differing => new(Tests.Values.Count(r => r.Differs), Tests.Count);

    /// <summary>The ids a list shows; none when it does not ask about the criterion.</summary>
    public Guid[] Ids(string? show) => Shows.FirstOrDefault(s => s.Show == show).Is is { } fits
        ? [.. Tests.Where(t => fits(t.Value)).Select(t => t.Key)] : [];
}

/// <summary>Compares a site's tests of the birth admission with the criteria in force (<see cref="CompareWithCriterion"/>).</summary>
public sealed class CompareOutcomes(NpgsqlDataSource source)
{
    private static readonly string Sql = EmbeddedSql.Of<CompareOutcomes>("ComparedTests");

    /// <summary>Null when no criterion is stated that could hold for a test of this site.</summary>
    public async Task<ComparedOutcomes?> ForSiteAsync(Site site, ScreensAsked asked, CancellationToken ct)
    {
        var criteria = asked.Policy.PassCriteria;
        if (!Array.Exists(criteria, c => c.Site is null || string.Equals(c.Site, site.Code, StringComparison.OrdinalIgnoreCase)))
            return null;
        await using var command = source.CreateCommand(Sql);
        asked.Bind(command);
        await using var r = await command.ExecuteReaderAsync(ct);
        var tests = new Dictionary<Guid, CriterionResult>();
        while (await r.ReadAsync(ct))
        {
            var criterion = PassCriterion.For(criteria, site.Code, r.TextOrNull(3), r.Code<ScreeningMethod>(2));
            var measured = new TestDetail { Bands = TestDetail.ReadBands(r.GetString(4)).Bands };
            var result = CompareWithCriterion.Compare(r.Code<ScreeningOutcome>(1), measured, criterion);
            if (result.Finding != CriterionFinding.NotCompared) tests[r.GetGuid(0)] = result;
        }

        return new(tests);
    }
}
