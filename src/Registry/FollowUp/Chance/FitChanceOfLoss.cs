using System.Text.Json;
using Hangfire;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Chance;

namespace Registry.FollowUp.Chance;

/// <summary>
/// Fits the chance of loss to the registry's own last years, in one pass over their births, checks whether it comes true, and keeps both.
/// Where the program uses it, the work list is then put in order anew.
/// </summary>
/// <remarks>Queue <c>default</c>, on Sundays, one at a time, three retries. Run again it adds a version that says the same.</remarks>
public sealed class FitChanceOfLoss(IServiceScopeFactory scopes, NpgsqlDataSource source, PolicyStore policies, ProgramClock clock)
{
    /// <summary>Births so far back tell of today's region. Own choice.</summary>
    private const int Years = 4;

    /// <summary>What happened may be reported so many days later. Own choice.</summary>
    private const int DaysToReport = 30;

    /// <summary>Past cases kept in memory: of more, those of every second infant, and so on. Own choice.</summary>
    private const int MostCases = 60_000;

    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        var policy = await policies.InForceAsync(clock.Today, ct);
        var cases = await ReadAsync(policy, ct);
        if (FitLoss.Of(cases, policy.ReleaseThreshold) is not var (model, check))
            return $"too little history: {cases.Count} past cases, {cases.Count(c => c.Lost)} of them lost";
        var version = await KeepAsync(model, check, policy, ct);
        var sorted = policy.ChanceOfLossDays > 0 ? await RecomputeStatuses.ForWorkAsync(source, clock.Today, policy, ct) : 0;
        return $"version {version} of {check.Infants} infants, {check.Lost} lost; {sorted} infants put in order anew";
    }

    private async Task<List<PastCase>> ReadAsync(Policy policy, CancellationToken ct)
    {
        var (through, oneIn) = (clock.Today.AddDays(-DaysToReport), 1u);
        var cases = new List<PastCase>();
        await using var connection = await source.OpenConnectionAsync(ct);
        await foreach (var chunk in WalkInfants.KnownAtAsync(connection, clock.Now, clock.Today.AddYears(-Years), ct))
        {
            var traits = await ReadLossTraits.OfAsync(connection, [.. chunk.Select(i => i.Id.Value)], ct);
            foreach (var infant in chunk.Where(i => IsDrawn(i.Id.Value)))
                cases.AddRange(ReadLossHistory.Of(infant.Id.Value, infant.Facts, on => traits.On(infant.Id.Value, on), policy, through));
            while (cases.Count > MostCases)
            {
                oneIn *= 2;
                cases.RemoveAll(c => !IsDrawn(c.Infant));
            }
        }

        return cases;

        // The end of an id is random.
        bool IsDrawn(Guid infant) => BitConverter.ToUInt32(infant.ToByteArray(), 12) % oneIn == 0;
    }

    private async Task<int> KeepAsync(LossModel model, LossCheck check, Policy policy, CancellationToken ct)
    {
        await using var scope = scopes.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        var version = 1 + (await db.LossHistories.MaxAsync(h => (int?)h.Version, ct) ?? 0);
        db.LossHistories.Add(new()
        {
            Id = Guid.CreateVersion7(),
            Version = version,
            MadeAt = clock.Now,
            PolicyVersion = policy.Version,
            BornFrom = clock.Today.AddYears(-Years),
            BornTo = clock.Today.AddDays(-DaysToReport - ReadLossHistory.HorizonDays(policy) - ReadLossHistory.Ages[0]),
            Holds = check.Holds,
            Document = JsonSerializer.Serialize(model, ReadLossModel.Json),
            Checked = JsonSerializer.Serialize(check, ReadLossModel.Json),
        });
        await db.SaveChangesAsync(ct);
        return version;
    }
}
