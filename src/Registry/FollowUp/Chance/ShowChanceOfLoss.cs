using System.Text.Json;
using Microsoft.EntityFrameworkCore;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Chance;

namespace Registry.FollowUp.Chance;

/// <summary>A chance of loss as it was fitted, and how it came true.</summary>
/// <param name="Policy">In force on the day looked at: whether it is used.</param>
public sealed record ShownChance(LossHistory History, LossCheck Check, IReadOnlyList<LossTerm> Terms, Policy Policy)
{
    public bool IsUsed => History.Holds && Policy.ChanceOfLossDays > 0;
}

/// <summary>Shows the chance of loss that was the latest at the end of a day: counts only, no infant.</summary>
public sealed class ShowChanceOfLoss(RegistryDb db, PolicyStore policies, ProgramClock clock)
{
    /// <returns>Null where none had been fitted by then.</returns>
    public async Task<ShownChance?> AsOfAsync(DateOnly day, CancellationToken ct)
    {
        var end = clock.EndOf(day);
        var history = await db.LossHistories.AsNoTracking().Where(h => h.MadeAt <= end).OrderByDescending(h => h.Version)
            .FirstOrDefaultAsync(ct);
        return history is null ? null : new(history, JsonSerializer.Deserialize<LossCheck>(history.Checked, ReadLossModel.Json)!,
            JsonSerializer.Deserialize<LossModel>(history.Document, ReadLossModel.Json)!.Terms, await policies.InForceAsync(day, ct));
    }
}
