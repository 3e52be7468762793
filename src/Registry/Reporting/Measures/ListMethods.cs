using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Rules.Measures;

namespace Registry.Reporting.Measures;

/// <summary>How each proportion of today's reports is defined, by which policy.</summary>
public sealed record Methods(string PolicyVersion, IReadOnlyList<Ratio> Ratios, IReadOnlyDictionary<string, string> Lines);

/// <summary>Lists the definitions behind the figures: what is counted of what, where it comes from and how sure we are.</summary>
public sealed class ListMethods(PolicyStore policies, ProgramClock clock)
{
    public async Task<Methods> RunAsync(CancellationToken ct)
    {
        var policy = await policies.InForceAsync(clock.Today, ct);
        var set = MeasureSet.Under(policy);
        return new(policy.Version, set.Ratios, set.Lines.ToDictionary(l => l.Code, l => l.Name));
    }
}
