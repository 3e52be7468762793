using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;

namespace Registry.Accounts;

/// <summary>The access trail of everybody: reads, denials, sign-ins, keys, policy, jobs.</summary>
[Authorize(Permissions.ReadTrail)]
public sealed class TrailModel(ListReads list) : PageModel
{
    public ReadsAsked Asked { get; private set; } = new(null, null, null, null);
    public ReadsPage Shown { get; private set; } = new([], null);

    public async Task OnGetAsync(CancellationToken ct)
    {
        Asked = ReadsQuery.Read(Request.Query);
        Shown = await list.AllAsync(Asked, ct);
    }
}
