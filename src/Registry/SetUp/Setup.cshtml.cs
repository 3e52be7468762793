using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;

namespace Registry.SetUp;

/// <summary>Where the set-up goes on, and what a registry in service still lacks.</summary>
[Authorize(Permissions.Administrator)]
public sealed class SetUpModel(ShowProgress progress) : PageModel
{
    public string? Next { get; private set; }
    public IReadOnlyList<CheckItem> Items { get; private set; } = [];

    public async Task OnGetAsync(CancellationToken ct)
    {
        Next = await progress.NextAsync(ct);
        Items = await progress.ListAsync(ct);
    }
}
