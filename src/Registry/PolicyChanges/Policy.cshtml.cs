using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.PolicyVersions;
using Registry.Rules;
using Registry.Ui;

namespace Registry.PolicyChanges;

/// <summary>The program's choices in force on the as-of day, its earlier and later versions, and the rules with their sources.</summary>
[Authorize(Permissions.SeeCounts)]
public sealed class PolicyModel(PolicyStore policies, AsOf asOf) : PageModel
{
    public Policy InForce { get; private set; } = Policy.Default;
    public IReadOnlyList<Policy> Versions { get; private set; } = [];

    public async Task OnGetAsync(CancellationToken ct)
    {
        InForce = await policies.InForceAsync(asOf.Date, ct);
        Versions = await policies.AllAsync(ct);
    }
}
