using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Rules;
using Registry.Rules.Disclosure;
using Registry.Rules.Measures;
using Registry.Rules.Statistics;

namespace Registry.Reporting.Measures;

/// <summary>What was counted, before anything is shown or hidden.</summary>
/// <param name="Waits">For each curve of <see cref="TimeToEvent.All"/>, the wait of each infant of its population.</param>
/// <param name="ReportedThrough">The last day that is completely reported: to it the curves follow.</param>
/// <param name="Fingerprint">Stands for the facts that were counted; see <see cref="FactsFingerprint"/>.</param>
public sealed record Measured(
    MeasureRequest Request, Policy Policy, MeasureTable Table, IReadOnlyList<IReadOnlyList<CompetingWait>> Waits,
    DateOnly ReportedThrough, string Fingerprint)
{
    /// <summary>Counts that may not leave the registry, settled over every breakdown together; null when not asked for.</summary>
    public HiddenCounts? Hidden { get; init; }
}

/// <summary>Computes every measure of a request from the facts themselves, with the policy in force on the as-of date.</summary>
public sealed class ComputeMeasures(ReadMeasuredInfants infants, KeepFigures keep, PolicyStore policies, ProgramClock clock)
{
    /// <summary>Everything the registry reports.</summary>
    /// <param name="request">What is asked for.</param>
    /// <param name="forRelease">Also settle which counts must be hidden.</param>
    /// <param name="policyVersion">A version other than the one in force on the as-of date: to run an old report again.</param>
    /// <exception cref="InvalidOperationException">No such policy version.</exception>
    public async Task<Measured> RunAsync(MeasureRequest request, bool forRelease, CancellationToken ct, string? policyVersion = null)
    {
        var policy = policyVersion is null
            ? await policies.InForceAsync(request.AsOf, ct)
            : (await policies.AllAsync(ct)).FirstOrDefault(p => p.Version == policyVersion)
              ?? throw new InvalidOperationException($"There is no policy version {policyVersion}.");
        var asked = new PastQuestion(request, forRelease, policy.Version);
        return await (policyVersion is null
            ? keep.AnswerAsync(asked, token => CountAsync(request, forRelease, policy, token), ct)
            : keep.AnewAsync(asked, token => CountAsync(request, forRelease, policy, token), ct));
    }

    private async Task<Measured> CountAsync(MeasureRequest request, bool forRelease, Policy policy, CancellationToken ct)
    {
        var table = new Tabulate(MeasureSet.Under(policy), forRelease ? Enum.GetValues<Breakdown>() : [request.Breakdown]);
        var waits = TimeToEvent.All.Select(_ => new List<CompetingWait>()).ToArray();
        var fingerprint = new FactsFingerprint();
        var through = policy.ReportedThrough(request.AsOf, clock.DateOf(request.KnownAt));
        await foreach (var infant in infants.ForAsync(request, policy, ct))
        {
            table.Add(infant);
            fingerprint.Add(infant);
            for (var k = 0; k < waits.Length; k++)
                if (TimeToEvent.All[k].Population(infant) && TimeToEvent.All[k].WaitOf(infant, through) is { } wait) waits[k].Add(wait);
        }

        return new(request, policy, table.Result(request.Breakdown), waits, through, fingerprint.ToString())
        {
            Hidden = forRelease ? HiddenCounts.Of([.. Enum.GetValues<Breakdown>().Select(table.Result)], policy) : null,
        };
    }

    /// <summary>The infants a line counts (in one group, when given), in id order.</summary>
    public async Task<IReadOnlyList<MeasuredInfant>> BehindAsync(
        MeasureRequest request, string line, string? group, CancellationToken ct)
    {
        var policy = await policies.InForceAsync(request.AsOf, ct);
        var counted = MeasureSet.Under(policy).Lines.First(l => l.Code == line);
        return await keep.AnewAsync(new(request, ForRelease: false, policy.Version), FindAsync, ct);

        async Task<IReadOnlyList<MeasuredInfant>> FindAsync(CancellationToken token)
        {
            var behind = new List<MeasuredInfant>();
            await foreach (var infant in infants.ForAsync(request, policy, token))
                if (counted.Count(infant) > 0 && (group is null || Tabulate.GroupOf(infant, request.Breakdown) == group))
                    behind.Add(infant);
            return behind;
        }
    }
}
