using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Platform;
using Registry.Platform.Encryption;
using Registry.Records;

namespace Registry.HandOffs;

/// <summary>One thing that happened to a hand-off, with names for ids.</summary>
/// <param name="Who">Who did it, and where they work; null for somebody without an account.</param>
public sealed record HandOffStep(HandOffAct Act, DateTimeOffset At, string? Who, HandOffReason? Reason);

/// <summary>A hand-off as a page shows it.</summary>
/// <param name="To">To whom.</param>
/// <param name="Steps">What happened, the first first.</param>
/// <param name="May">What the viewer may say of it now.</param>
public sealed record HandOffLine(HandOff HandOff, string To, IReadOnlyList<HandOffStep> Steps, IReadOnlyList<HandOffAct> May)
{
    public bool Stands => HandOff.SupersededAt is null;

    /// <summary>The person there whom it is for; null: nobody named.</summary>
    public string? ForWhom => FieldKeys.OfProcess.Decrypt(HandOff.ForWhom, SendHandOff.PersonPlace);
}

/// <summary>The hand-offs of an infant, and the lines they add to its story. Who asks may see the infant.</summary>
public sealed class ShowHandOffs(RegistryDb db, AnswerHandOff answers, ProgramClock clock, Viewer viewer)
{
    private static readonly HandOffAct[] Offered =
        [HandOffAct.Received, HandOffAct.Accepted, HandOffAct.ConsentRecorded, HandOffAct.Returned, HandOffAct.Withdrawn];

    /// <summary>Those that stand first, then the latest.</summary>
    public async Task<IReadOnlyList<HandOffLine>> OfAsync(InfantId infant, CancellationToken ct)
    {
        var handOffs = await db.HandOffs.AsNoTracking().Where(h => h.InfantId == infant)
            .OrderByDescending(h => h.SupersededAt == null).ThenByDescending(h => h.SentAt).ThenByDescending(h => h.Id)
            .ToListAsync(ct);
        if (handOffs.Count == 0) return [];
        var ids = handOffs.ConvertAll(h => h.Id);
        var steps = await (
            from e in db.HandOffEvents.AsNoTracking()
            join p in db.Users on e.PersonId equals p.Id into people
            from p in people.DefaultIfEmpty()
            join s in db.Sites on e.SiteId equals s.Id into sites
            from s in sites.DefaultIfEmpty()
            where ids.Contains(e.HandOffId)
            orderby e.Id
            select new
            {
                e.HandOffId,
                e.Act,
                e.At,
                e.Role,
                e.Reason,
                Who = p == null ? null : p.DisplayName,
                Site = s == null ? null : s.Name,
            }).ToListAsync(ct);
        var names = await NamesAsync(handOffs, ct);
        var lines = new List<HandOffLine>();
        foreach (var handOff in handOffs)
            lines.Add(new(handOff, names[handOff.Id],
                [.. steps.Where(s => s.HandOffId == handOff.Id).Select(s => new HandOffStep(
                    s.Act, s.At, s.Who is null ? null : ContactWords.By(s.Who, s.Role, s.Site), s.Reason))], await MayAsync(handOff, ct)));
        return lines;
    }

    /// <summary>To whom each went.</summary>
    public async Task<IReadOnlyDictionary<Guid, string>> NamesAsync(IReadOnlyList<HandOff> handOffs, CancellationToken ct)
    {
        var ids = handOffs.Select(h => h.ToSiteId).OfType<SiteId>().ToList();
        var sites = await db.Sites.AsNoTracking().Where(s => ids.Contains(s.Id)).ToDictionaryAsync(s => s.Id, s => s.Name, ct);
        return handOffs.ToDictionary(h => h.Id, h => h.ToSiteId is { } site ? sites[site]
            : FieldKeys.OfProcess.Decrypt(h.ToName, SendHandOff.NamePlace) ?? HandOffWords.Of(h.Kind));
    }

    /// <summary>Lines of the infant's story, of what was known at a moment.</summary>
    public async Task<IReadOnlyList<StoryLine>> TellAsync(InfantId infant, DateTimeOffset known, CancellationToken ct) =>
        [.. (await OfAsync(infant, ct)).SelectMany(line => line.Steps.Where(s => s.At <= known).Select(step => new StoryLine(
            TimeZoneInfo.ConvertTime(step.At, clock.Zone).DateTime, true, HandOffWords.Told(line, step), HandOffWords.By(step), [])))];

    private async Task<IReadOnlyList<HandOffAct>> MayAsync(HandOff handOff, CancellationToken ct)
    {
        if (handOff.SupersededAt is not null || viewer.PersonId is null) return [];
        var may = new List<HandOffAct>();
        foreach (var act in Offered)
            if (AnswerHandOff.Follows(handOff, act) && await answers.MayAsync(handOff, act, ct)) may.Add(act);
        return may;
    }
}
