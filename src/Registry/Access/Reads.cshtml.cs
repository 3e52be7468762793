using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.EntityFrameworkCore;
using Registry.Records;

namespace Registry.Access;

/// <summary>Who looked at one infant's record, latest first. Reading this list is itself recorded.</summary>
[Authorize(Permissions.Coordinator), ShowsInfants]
public sealed class ReadsModel(RegistryDb db, Viewer viewer, AuditReads audit) : PageModel
{
    public const int Most = 500;

    [FromRoute]
    public Guid Id { get; set; }

    /// <summary>One read.</summary>
    public sealed record Read(DateTimeOffset At, string Who, string Action);

    public IReadOnlyList<Read> Reads { get; private set; } = [];
    public int Total { get; private set; }

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        var id = new InfantId(Id);
        if (!await db.VisibleInfants(viewer).AnyAsync(i => i.Id == id, ct)) return NotFound();
        var reads = db.AccessRecords.AsNoTracking().Where(a => a.InfantId == id);
        Total = await reads.CountAsync(ct);
        Reads = await reads.OrderByDescending(a => a.At).ThenByDescending(a => a.Id).Take(Most)
            .Select(a => new Read(
                a.At,
                db.Users.Where(p => p.Id == a.PersonId).Select(p => p.DisplayName).FirstOrDefault()
                    ?? db.SiteKeys.Where(k => k.Id == a.SiteKeyId).Select(k => "site key " + k.Name).FirstOrDefault() ?? "unknown",
                a.Action))
            .ToListAsync(ct);
        await audit.OneAsync(id, ct);
        return Page();
    }
}
