using Microsoft.EntityFrameworkCore;
using Registry.Records;

namespace Registry.Ui;

/// <summary>The version of the policy in force on a day, named on every page and report.</summary>
public sealed class PolicyInForce(RegistryDb db)
{
    private readonly Dictionary<DateOnly, string?> _known = [];

    /// <returns>The version, or null when no policy was in force on that day.</returns>
    public async Task<string?> VersionAsync(DateOnly on)
    {
        if (_known.TryGetValue(on, out var version)) return version;
        return _known[on] = await db.Policies.Where(p => p.EffectiveFrom <= on)
            .OrderByDescending(p => p.EffectiveFrom).ThenByDescending(p => p.RecordedAt)
            .Select(p => p.Version).FirstOrDefaultAsync();
    }
}
