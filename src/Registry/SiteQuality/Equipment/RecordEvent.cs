using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Quality;

namespace Registry.SiteQuality.Equipment;

/// <summary>What the form of a site's equipment sends.</summary>
public sealed record EventForm
{
    /// <summary>Kind of unit and kind of event, as codes with a slash between.</summary>
    public string? What { get; init; }
    public string? Name { get; init; }
    public DateOnly? Day { get; init; }
    public string? Words { get; init; }
}

public enum EventAnswer { Recorded, TookBack, NoSuchPlace, NoSuchEvent, WhatNeeded, NameNeeded, DayNeeded, TooManyWords, NotYours }

/// <summary>Records what happened to an instrument or probe of a site, by whoever works there or a coordinator; of a screener by the
/// manager of the site alone. The same event on the same day is recorded once.</summary>
public sealed class RecordEvent(RegistryDb db, Viewer viewer, ProgramClock clock, AuditActs audit)
{
    public const int LongestWords = 500, LongestName = 100;
    public const string WordsColumn = "equipment_events.words";

    public async Task<EventAnswer> RunAsync(string code, EventForm form, CancellationToken ct)
    {
        if (await FindSiteAsync(code, ct) is not { } site || viewer.PersonId is not { } person) return EventAnswer.NoSuchPlace;
        if (form.What?.Split('/') is not [var unitCode, var kindCode] || !Codes.TryParse<QualityUnitKind>(unitCode, out var unit)
            || !Codes.TryParse<EquipmentEventKind>(kindCode, out var kind) || !EquipmentEvent.Of(unit).Contains(kind))
            return EventAnswer.WhatNeeded;
        if (unit == QualityUnitKind.Screener && !viewer.IsSiteManager) return EventAnswer.NotYours;
        if (form.Name?.Trim() is not { Length: > 0 and <= LongestName } name) return EventAnswer.NameNeeded;
        if (form.Day is not { } day || day > clock.Today || day < clock.Today.AddYears(-10)) return EventAnswer.DayNeeded;
        var words = form.Words?.Trim();
        if (words?.Length > LongestWords) return EventAnswer.TooManyWords;
        if (await db.EquipmentEvents.AnyAsync(e => e.SiteId == site && e.Unit == unit && e.Name == name && e.Kind == kind && e.Day == day
            && e.TakenBackAt == null, ct)) return EventAnswer.Recorded; // sent twice
        var happened = new EquipmentEvent
        {
            Id = Guid.CreateVersion7(),
            SiteId = site,
            Unit = unit,
            Name = name,
            Kind = kind,
            Day = day,
            Words = string.IsNullOrEmpty(words) ? null : FieldKeys.OfProcess.Encrypt(words, WordsColumn),
            RecordedAt = clock.Now.ToUniversalTime(),
            RecordedBy = person,
        };
        db.EquipmentEvents.Add(happened);
        await db.SaveChangesAsync(ct);
        await audit.RecordAsync(AccessKind.EquipmentRecorded, happened.Id, Codes.Of(kind));
        return EventAnswer.Recorded;
    }

    /// <summary>Takes an event back that was entered by mistake.</summary>
    public async Task<EventAnswer> TakeBackAsync(string code, Guid id, CancellationToken ct)
    {
        if (await FindSiteAsync(code, ct) is not { } site) return EventAnswer.NoSuchPlace;
        if (await db.EquipmentEvents.FirstOrDefaultAsync(e => e.Id == id && e.SiteId == site && e.TakenBackAt == null, ct)
            is not { } happened)
            return EventAnswer.NoSuchEvent;
        if (!MayTakeBack(viewer, happened)) return EventAnswer.NotYours;
        (happened.TakenBackAt, happened.TakenBackBy) = (clock.Now.ToUniversalTime(), viewer.PersonId);
        await db.SaveChangesAsync(ct);
        await audit.RecordAsync(AccessKind.EquipmentRecorded, id, "taken_back");
        return EventAnswer.TookBack;
    }

    /// <summary>Who typed it, the manager of the site and the coordinators; of a screener only the manager.</summary>
    public static bool MayTakeBack(Viewer viewer, EquipmentEvent happened) => viewer.MaySubmitFor(happened.SiteId)
        && (viewer.IsSiteManager || happened.Unit != QualityUnitKind.Screener
            && (viewer.IsCoordinator || happened.RecordedBy == viewer.PersonId));

    private async Task<SiteId?> FindSiteAsync(string code, CancellationToken ct) =>
        await db.Sites.AsNoTracking().FirstOrDefaultAsync(s => s.Code == code, ct) is { } site && viewer.MaySubmitFor(site.Id)
            ? site.Id : null;
}
