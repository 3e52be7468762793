using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;

namespace Registry.Accounts;

/// <summary>Who looked at what, latest first, for auditors.</summary>
[Authorize(Permissions.ReadTrail)]
public sealed class TrailModel(ListTrail list) : PageModel
{
    public IReadOnlyList<TrailLine> Lines { get; private set; } = [];

    public async Task OnGetAsync(CancellationToken ct) => Lines = await list.LatestAsync(ct);
}
