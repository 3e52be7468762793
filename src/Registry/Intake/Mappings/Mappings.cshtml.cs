using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;

namespace Registry.Intake.Mappings;

/// <summary>The column mappings of the viewer's site, or of all.</summary>
[Authorize(Policy = Permissions.SiteManager)]
public sealed class MappingsModel(ReadMappings mappings, Viewer viewer) : PageModel
{
    public IReadOnlyList<MappingVersion> Mappings { get; private set; } = [];

    public async Task OnGetAsync(CancellationToken ct) => Mappings = await mappings.ListAsync(
        viewer.IsCoordinator ? null : viewer.SiteId, ct);
}
