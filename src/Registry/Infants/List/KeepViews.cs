using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Platform;
using Registry.Records;

namespace Registry.Infants.List;

/// <summary>A saved view as its reader sees it.</summary>
/// <param name="Filter">As the list's address has it.</param>
public sealed record ShownView(Guid Id, string Name, bool IsOwn, bool IsShared, bool IsDefault, string Filter);

/// <summary>What became of what was asked.</summary>
public enum ViewAnswer { Saved, Renamed, Discarded, DefaultSet, NoSuchView, NoName, TooMany }

/// <summary>Saves filters of a list under a name, for oneself or for one's office, and says with which the list opens. A view holds codes;
/// what it shows is read as the list is, by whoever opens it.</summary>
public sealed class KeepViews(RegistryDb db, ProgramClock clock, Viewer viewer)
{
    public const int LongestName = 60, Most = 50;

    /// <summary>The own, and those shared with the own office, by name.</summary>
    public async Task<IReadOnlyList<ShownView>> AllAsync(ViewedList list, CancellationToken ct)
    {
        if (viewer.PersonId is not { } person) return [];
        var opensWith = await db.DefaultViews.AsNoTracking().Where(d => d.PersonId == person && d.List == list)
            .Select(d => (Guid?)d.ViewId).SingleOrDefaultAsync(ct);
        var views = await Seen(list).AsNoTracking().OrderBy(v => v.Name).ThenBy(v => v.Id).ToListAsync(ct);
        return views.ConvertAll(
            v => new ShownView(v.Id, v.Name, v.PersonId == person, v.IsShared, v.Id == opensWith, v.Filter));
    }

    /// <param name="list">Of which list.</param>
    /// <param name="name">As typed.</param>
    /// <param name="filter">Codes, as the list's own filter writes them.</param>
    /// <param name="shared">With the office.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<(ViewAnswer Answer, Guid? Id)> SaveAsync(
        ViewedList list, string? name, string filter, bool shared, CancellationToken ct)
    {
        if (viewer.PersonId is not { } person) return (ViewAnswer.NoSuchView, null);
        if (Named(name) is not { } kept) return (ViewAnswer.NoName, null);
        if (await db.SavedViews.CountAsync(v => v.PersonId == person, ct) >= Most) return (ViewAnswer.TooMany, null);
        var view = new SavedView
        {
            Id = Guid.CreateVersion7(),
            PersonId = person,
            SiteId = viewer.SiteId,
            IsShared = shared,
            List = list,
            Name = kept,
            Filter = filter,
            SavedAt = clock.Now,
        };
        db.SavedViews.Add(view);
        await db.SaveChangesAsync(ct);
        return (ViewAnswer.Saved, view.Id);
    }

    /// <summary>Another name, and whether it is shared: of an own view.</summary>
    public async Task<ViewAnswer> RenameAsync(ViewedList list, Guid id, string? name, bool shared, CancellationToken ct)
    {
        if (await OwnAsync(list, id, ct) is not { } view) return ViewAnswer.NoSuchView;
        if (Named(name) is not { } kept) return ViewAnswer.NoName;
        (view.Name, view.IsShared) = (kept, shared);
        await db.SaveChangesAsync(ct);
        return ViewAnswer.Renamed;
    }

    public async Task<ViewAnswer> DiscardAsync(ViewedList list, Guid id, CancellationToken ct)
    {
        if (await OwnAsync(list, id, ct) is not { } view) return ViewAnswer.NoSuchView;
        db.SavedViews.Remove(view);
        await db.SaveChangesAsync(ct);
        return ViewAnswer.Discarded;
    }

    /// <param name="list">Which list.</param>
    /// <param name="id">Null: the list opens as it does for everybody.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<ViewAnswer> OpenWithAsync(ViewedList list, Guid? id, CancellationToken ct)
    {
        if (viewer.PersonId is not { } person || id is { } asked && !await Seen(list).AnyAsync(v => v.Id == asked, ct))
            return ViewAnswer.NoSuchView;
        await db.DefaultViews.Where(d => d.PersonId == person && d.List == list).ExecuteDeleteAsync(ct);
        if (id is { } view)
        {
            db.DefaultViews.Add(new() { PersonId = person, List = list, ViewId = view });
            await db.SaveChangesAsync(ct);
        }

        return ViewAnswer.DefaultSet;
    }

    private IQueryable<SavedView> Seen(ViewedList list) => db.SavedViews.Where(v =>
        v.List == list && (v.PersonId == viewer.PersonId || v.IsShared && v.SiteId == viewer.SiteId));

    private Task<SavedView?> OwnAsync(ViewedList list, Guid id, CancellationToken ct) =>
        db.SavedViews.SingleOrDefaultAsync(v => v.Id == id && v.List == list && v.PersonId == viewer.PersonId, ct);

    private static string? Named(string? name) => name?.Trim() is { Length: > 0 and <= LongestName } kept ? kept : null;
}
