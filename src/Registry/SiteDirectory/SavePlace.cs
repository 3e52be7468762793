using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Csv;
using Registry.Records;

namespace Registry.SiteDirectory;

/// <summary>A row of a file of places.</summary>
/// <param name="Line">In the file.</param>
/// <param name="Form">As it was read; for a place that is there, what the file does not name stays.</param>
/// <param name="IsNew">No place has the code yet.</param>
/// <param name="Problems">What is wrong with it.</param>
public sealed record PlaceRow(int Line, PlaceForm Form, bool IsNew, IReadOnlyList<string> Problems);

/// <summary>Adds and changes sites, clinics and programs: one, or those of a file, which is tried before anything is saved. The database
/// keeps what was before each change.</summary>
public sealed class SavePlace(
    RegistryDb db, IOptions<ProgramOptions> program, ProgramClock clock, Viewer viewer, AuditActs audit)
{
    /// <param name="code">The place to change; null: a new one.</param>
    /// <param name="form">What it is to be.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>Problems by field; none: it is saved.</returns>
    public async Task<IReadOnlyList<(string Field, string Problem)>> RunAsync(string? code, PlaceForm form, CancellationToken ct)
    {
        var sites = await db.Sites.ToListAsync(ct);
        var (site, problems) = Read(sites, code, form);
        if (problems.Count > 0)
        {
            db.ChangeTracker.Clear();
            return problems;
        }

        return await SaveAsync([site], ct) ? [] : [(nameof(form.Code), PlaceWords.SavedMeanwhile)];
    }

    /// <summary>Reads a file; nothing is saved.</summary>
    public async Task<(IReadOnlyList<PlaceRow> Rows, string? Problem)> TryAsync(string text, CancellationToken ct)
    {
        var (rows, _, problem) = await ReadAsync(text, ct);
        db.ChangeTracker.Clear();
        return (rows, problem);
    }

    /// <summary>Saves a file's places: all of them, or none.</summary>
    public async Task<(IReadOnlyList<PlaceRow> Rows, string? Problem)> AllAsync(string text, CancellationToken ct)
    {
        var (rows, sites, problem) = await ReadAsync(text, ct);
        if (problem is null && rows.All(r => r.Problems.Count == 0))
            return (rows, await SaveAsync(sites, ct) ? null : PlaceWords.SavedMeanwhile);
        db.ChangeTracker.Clear();
        return (rows, problem);
    }

    private async Task<(IReadOnlyList<PlaceRow> Rows, IReadOnlyList<Site> Sites, string? Problem)> ReadAsync(
        string text, CancellationToken ct)
    {
        if (ReadCsv.Rows(text, [.. PlaceForm.Columns.Select(c => c.Column)], out var reason) is not { } lines) return ([], [], reason);
        var sites = await db.Sites.ToListAsync(ct);
        var (rows, read) = (new List<PlaceRow>(), new List<Site>());
        foreach (var line in lines)
        {
            var known = sites.FirstOrDefault(s => s.Code == line["code"]);
            var form = known is null ? new() : PlaceForm.Of(known, id => sites.FirstOrDefault(s => s.Id == id)?.Code);
            foreach (var (column, with, _) in PlaceForm.Columns)
                if (line.Cells.TryGetValue(column, out var value)) form = with(form, value);
            var (site, problems) = Read(sites, known?.Code, form);
            if (read.Contains(site)) problems = [.. problems, ("", PlaceWords.CodeTaken)];
            rows.Add(new(line.Number, form, known is null, [.. problems.Select(p => p.Problem)]));
            // A later row may name it as the one that continues, and must not repeat its code or name.
            if (known is null) sites.Add(site);
            read.Add(site);
        }

        return (rows, read, null);
    }

    private (Site Site, IReadOnlyList<(string Field, string Problem)> Problems) Read(
        IReadOnlyList<Site> sites, string? code, PlaceForm form)
    {
        var site = code is null ? null : sites.Single(s => s.Code == code);
        if (site is not null) form = form with { Code = site.Code };
        site ??= new Site { Id = SiteId.New(), Code = form.Code, Name = form.Name, County = form.County };
        site.ChangedBy = viewer.PersonId;
        return (site, ReadPlace.Onto(site, form,
            new(clock.Today, program.Value.Counties, [.. sites.Where(s => s.Id != site.Id)])));
    }

    private async Task<bool> SaveAsync(IReadOnlyList<Site> sites, CancellationToken ct)
    {
        try
        {
            foreach (var site in sites.Where(s => db.Entry(s).State == EntityState.Detached)) db.Sites.Add(site);
            await db.SaveChangesAsync(ct);
        }
        catch (DbUpdateException e) when (e.InnerException is PostgresException { SqlState: PostgresErrorCodes.UniqueViolation })
        {
            return false;
        }

        foreach (var site in sites) await audit.RecordAsync(AccessKind.PlaceChanged, site.Id.Value, site.Code);
        return true;
    }
}
