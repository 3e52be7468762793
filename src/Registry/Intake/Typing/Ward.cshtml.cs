using System.Globalization;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Rules.Facts;

namespace Registry.Intake.Typing;

/// <summary>A screener's home: whom the site still has to screen, and the way to enter a result, with or without a connection.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants]
public sealed class WardModel(
    ListWard list, TypeRows type, RememberInstrument remember, LockDevice locks, PolicyStore policies, AccessSettings settings,
    ProgramClock clock, AuditReads audit, Viewer viewer) : PageModel
{
    public WardList List { get; private set; } = null!;
    public IReadOnlyList<WardRow> Rows => List.Rows;

    /// <summary>What an entry begins with.</summary>
    public ScreenFields Fields { get; private set; } = new(new(), null, []);

    /// <summary>The moment of the list: what is recorded later is news to who enters from it.</summary>
    public string Seen { get; private set; } = "";

    /// <summary>Which sign-in the device's key belongs to, and how long it lies idle at most.</summary>
    public Guid? Session => Viewer.SessionOf(User);
    public int IdleMinutes { get; private set; }
    public double LongestHours => settings.Longest.TotalHours;

    /// <summary>The region's clock, by which results are entered whatever a phone says.</summary>
    public string Now => TimeZoneInfo.ConvertTime(clock.Now, clock.Zone).ToString("yyyy-MM-dd'T'HH:mm:ss", CultureInfo.InvariantCulture);

    public async Task OnGetAsync(CancellationToken ct)
    {
        Seen = type.Moment;
        IdleMinutes = (await policies.InForceAsync(clock.Today, ct)).SessionIdleMinutes;
        var (method, instrument) = await remember.OfAsync(viewer, ct);
        Fields.Form.Columns[Codes.Of(Field.Method)] = method is { } known ? Codes.Of(known) : null;
        Fields.Form.Columns[Codes.Of(Field.Instrument)] = instrument;
        List = await list.OfAsync(viewer, ct);
        await audit.ListAsync(Rows.Select(r => r.Id), ct);
    }

    /// <summary>A key for this device; with a sealed one, that one again, for the person it was made for.</summary>
    public IActionResult OnPostKey(string? @sealed)
    {
        if (viewer.PersonId is not { } person) return NotFound();
        if (string.IsNullOrEmpty(@sealed)) return new JsonResult(locks.New(person));
        return locks.Open(person, @sealed) is { } key ? new JsonResult(new DeviceLock(key, @sealed)) : NotFound();
    }
}
