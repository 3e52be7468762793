using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Facts;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.PolicyChanges;

/// <summary><c>/policy/drafts/{id}/infants</c>: the infants behind one number of a draft, found by counting again.</summary>
[ShowsInfants, Authorize(Permissions.Coordinator)]
public sealed class DraftInfantsModel(CountStatusChanges count, RegistryDb db, SiteChoices sites, AuditReads audit) : PageModel
{
    public const int PageSize = 100;

    public Guid Id { get; private set; }
    public string What { get; private set; } = "";
    public int Total { get; private set; }
    public int Start { get; private set; }
    public IReadOnlyList<KnownInfant> Infants { get; private set; } = [];
    public IReadOnlyDictionary<Guid, string> Sites { get; private set; } = new Dictionary<Guid, string>();
    public bool More => Start + Infants.Count < Total;

    public async Task<IActionResult> OnGetAsync(Guid id, string? aspect, string? from, string? to, int start, CancellationToken ct)
    {
        if (!await db.PolicyDrafts.AnyAsync(d => d.Id == id, ct)) return NotFound();
        StatusChange? change = null;
        if (aspect is not null)
        {
            if (!Codes.TryParse<StatusAspect>(aspect, out var parsed)) return BadRequest();
            change = new(parsed, from ?? "", to ?? "");
        }

        var behind = await count.BehindAsync(id, change, ct);
        (Id, Total, Start) = (id, behind.Count, Math.Max(0, start));
        What = change is not { } c ? "Infants whose status would change"
            : c.From.Length + c.To.Length == 0 ? $"{Words.Of((Enum)c.Aspect)} would differ"
            : behind.Count == 0 ? "No such change"
                : $"{Words.Of((Enum)c.Aspect)}: {DraftModel.Of(c.Aspect, c.From)} → {DraftModel.Of(c.Aspect, c.To)}";
        Infants = [.. behind.OrderBy(i => i.Facts.Birth.Date).ThenBy(i => i.Id.Value).Skip(Start).Take(PageSize)];
        Sites = (await sites.AllAsync(ct)).ToDictionary(s => s.Id.Value, s => s.Name);
        await audit.ListAsync(Infants.Count, ct);
        return Page();
    }
}
