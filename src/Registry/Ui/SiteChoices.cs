using Microsoft.AspNetCore.Mvc.Rendering;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Platform;
using Registry.Records;

namespace Registry.Ui;

/// <summary>The sites and counties a viewer may filter by: all for the program's people, nothing to choose for others.</summary>
public sealed class SiteChoices(RegistryDb db, Viewer viewer, IOptions<ProgramOptions> program)
{
    public async Task<IReadOnlyList<Site>> AllAsync(CancellationToken ct = default) =>
        viewer.IsCoordinator || viewer.IsAdministrator ? await db.Sites.AsNoTracking().OrderBy(s => s.Name).ToListAsync(ct) : [];

    /// <summary>The counties of the program; where it states none, those of its places.</summary>
    public async Task<IReadOnlyList<string>> CountiesAsync(CancellationToken ct = default) => program.Value.Counties.Count > 0
        ? program.Value.Counties : await db.Sites.Select(s => s.County).Distinct().OrderBy(c => c).ToListAsync(ct);

    /// <summary>Every site that is open, for whoever says where an infant goes.</summary>
    public async Task<IReadOnlyList<Site>> ActiveAsync(CancellationToken ct) =>
        await db.Sites.AsNoTracking().Where(s => s.Active).OrderBy(s => s.Name).ToListAsync(ct);

    /// <summary>What sites are called, by code: for a filter that names one.</summary>
    public async Task<IReadOnlyDictionary<string, string>> NamesByCodeAsync(CancellationToken ct) =>
        await db.Sites.AsNoTracking().ToDictionaryAsync(s => s.Code, s => s.Name, ct);

    /// <summary>The code of a site among some.</summary>
    public static string? CodeOf(IEnumerable<Site> among, SiteId? site) => among.FirstOrDefault(s => s.Id == site)?.Code;

    /// <summary>The name of a site the viewer was shown something of.</summary>
    public Task<string> NameAsync(SiteId id, CancellationToken ct = default) =>
        db.Sites.Where(s => s.Id == id).Select(s => s.Name).SingleAsync(ct);

    public static IEnumerable<SelectListItem> Options(IEnumerable<Site> sites, string? chosen) =>
        sites.Select(s => new SelectListItem(s.Active ? s.Name : s.Name + " (closed)", s.Code, s.Code == chosen));
}

/// <summary>Options of coded filters.</summary>
public static class Choices
{
    /// <summary>Every value of <typeparamref name="T"/> by code, in words.</summary>
    public static IEnumerable<SelectListItem> Of<T>(Func<T, string> words, T? chosen, params T[] except) where T : struct, Enum =>
        Enum.GetValues<T>().Except(except)
            .Select(v => new SelectListItem(words(v), Rules.Facts.Codes.Of(v), chosen is { } c
                && EqualityComparer<T>.Default.Equals(c, v)));
}
