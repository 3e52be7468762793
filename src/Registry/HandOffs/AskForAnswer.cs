using System.Buffers.Text;
using System.Security.Cryptography;
using System.Text;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Outreach;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.HandOffs;

/// <summary>A question as a page sends it.</summary>
public sealed record AskForm
{
    /// <summary>The hand-off that is to be acknowledged; null: a result is asked for.</summary>
    public Guid? HandOff { get; init; }

    /// <summary>The code of the clinic whose result is asked for.</summary>
    public string? ToSite { get; init; }
    public PathStep? Step { get; init; }

    /// <summary>Where the link goes; empty: it is shown, to be handed over.</summary>
    public string? Email { get; init; }
}

/// <summary>What became of a question.</summary>
public enum AskAnswer { Mailed, Shown, NoSuchInfant, ChooseSite, NotOpen, NotUnderstood }

/// <summary>A question that was asked, with names for ids.</summary>
public sealed record AskedLine(AnswerRequest Request, string To, bool IsOpen);

/// <summary>
/// Asks a clinic for a result, or whoever an infant was handed to whether it arrived: on the home of one with an account, and by a link
/// that opens a one-page form once. The letter names no family and no infant. One link stands for a question: asking again closes the one
/// before.
/// </summary>
public sealed class AskForAnswer(
    RegistryDb db, WriteForInfant write, PolicyStore policies, ProgramClock clock, TimeProvider time, MailStaff mail,
    IOptions<ProgramOptions> program, Viewer viewer, AuditActs audit)
{
    private const int TokenBytes = 32;
    private const int LongestEmail = 200;

    public bool IsAllowed => viewer.IsCoordinator || viewer.IsCaseWorker;

    /// <returns>What became of it, and the link, which is shown to nobody else and not kept.</returns>
    public async Task<(AskAnswer Answer, string? Link)> RunAsync(InfantId infant, AskForm? form, CancellationToken ct)
    {
        if (!IsAllowed || !await write.MayAsync(infant, ct)) return (AskAnswer.NoSuchInfant, null);
        if (form is null || form.Email?.Length > LongestEmail) return (AskAnswer.NotUnderstood, null);
        var (problem, site, step) = await WhomAsync(infant, form, ct);
        if (problem is { } why) return (why, null);
        var token = Base64Url.EncodeToString(RandomNumberGenerator.GetBytes(TokenBytes));
        var days = (await policies.InForceAsync(clock.Today, ct)).AnswerLinkDays;
        var request = new AnswerRequest
        {
            Id = Guid.CreateVersion7(),
            InfantId = infant,
            Purpose = form.HandOff is null ? AnswerPurpose.Result : AnswerPurpose.Acknowledgement,
            Step = step,
            ToSiteId = site,
            HandOffId = form.HandOff,
            AskedAt = clock.Now,
            AskedBy = viewer.PersonId!.Value,
            TokenSha256 = Hash(token),
            EndsAt = time.GetUtcNow().AddDays(days),
        };
        await write.RunAsync(infant, async () =>
        {
            foreach (var before in await db.AnswerRequests.Where(r => r.InfantId == infant && r.Purpose == request.Purpose
                && r.ToSiteId == site && r.HandOffId == form.HandOff && r.AnsweredAt == null && r.RevokedAt == null).ToListAsync(ct))
                before.RevokedAt = clock.Now;
            db.AnswerRequests.Add(request);
            return true;
        }, ct);
        await audit.RecordAsync(AccessKind.AnswerAsked, request.Id, Codes.Of(request.Purpose), infant: infant);
        var link = mail.Link($"/answer/{token}");
        var mailed = form.Email?.Trim() is { Length: > 0 } to && mail.HasServer && await mail.SendAsync(
            to, AskWords.Subject, AskWords.Letter(program.Value, link, clock.Today.AddDays(days)), ct);
        return (mailed ? AskAnswer.Mailed : AskAnswer.Shown, mailed ? null : link);
    }

    /// <summary>Closes a link before its time.</summary>
    public async Task<bool> RevokeAsync(InfantId infant, Guid id, CancellationToken ct)
    {
        if (!IsAllowed || !await write.MayAsync(infant, ct)) return false;
        return await EndAsync(id, infant, "revoked", ct);
    }

    /// <summary>The viewer's clinic has no result that it is asked for.</summary>
    public async Task<bool> HasNothingAsync(Guid id, CancellationToken ct)
    {
        if (viewer is not { PersonId: not null, SiteId: { } site } || viewer.Role == Role.VitalRecords) return false;
        var asked = await db.AnswerRequests.AsNoTracking().SingleOrDefaultAsync(r => r.Id == id && r.Purpose == AnswerPurpose.Result, ct);
        return asked is { ToSiteId: { } to, InfantId: var of } && await db.SpeaksForAsync(site, to, ct)
            && await write.MayAsync(of, ct) && await EndAsync(id, of, "no_result", ct);
    }

    /// <summary>What was asked about an infant the viewer was shown, the latest first.</summary>
    public async Task<IReadOnlyList<AskedLine>> OfAsync(InfantId infant, CancellationToken ct)
    {
        var lines = await (
            from r in db.AnswerRequests.AsNoTracking()
            join s in db.Sites on r.ToSiteId equals s.Id into sites
            from s in sites.DefaultIfEmpty()
            where r.InfantId == infant
            orderby r.AskedAt descending
            select new { Request = r, Site = s == null ? null : s.Name }).ToListAsync(ct);
        return lines.ConvertAll(l => new AskedLine(l.Request, l.Site ?? AskWords.NoSite, IsOpen(l.Request, time.GetUtcNow())));
    }

    internal static bool IsOpen(AnswerRequest request, DateTimeOffset now) =>
        request.AnsweredAt is null && request.RevokedAt is null && request.EndsAt > now;

    internal static byte[] Hash(string token) => SHA256.HashData(Encoding.UTF8.GetBytes(token));

    internal static bool IsToken(string token) => token.Length == Base64Url.GetEncodedLength(TokenBytes);

    private async Task<(AskAnswer?, SiteId?, PathStep)> WhomAsync(InfantId infant, AskForm form, CancellationToken ct)
    {
        if (form.HandOff is { } id)
        {
            var handOff = await db.HandOffs.AsNoTracking().SingleOrDefaultAsync(h => h.Id == id && h.InfantId == infant
                && h.SupersededAt == null && h.State != HandOffState.Accepted, ct);
            return handOff is null ? (AskAnswer.NotOpen, null, default) : (null, handOff.ToSiteId, handOff.Step);
        }

        if (form.Step is not (PathStep.Screening or PathStep.Diagnosis)) return (AskAnswer.NotUnderstood, null, default);
        var site = await db.Sites.Where(s => s.Code == form.ToSite && s.Active && s.Kind != SiteKind.VitalRecords
            && s.Kind != SiteKind.InterventionProgram).Select(s => (SiteId?)s.Id).SingleOrDefaultAsync(ct);
        return (site is null ? AskAnswer.ChooseSite : null, site, form.Step.Value);
    }

    private async Task<bool> EndAsync(Guid id, InfantId infant, string note, CancellationToken ct)
    {
        var now = clock.Now;
        if (await db.AnswerRequests.Where(r => r.Id == id && r.InfantId == infant && r.AnsweredAt == null && r.RevokedAt == null)
            .ExecuteUpdateAsync(u => u.SetProperty(r => r.RevokedAt, now), ct) != 1) return false;
        await audit.RecordAsync(AccessKind.AnswerAsked, id, note, infant: infant);
        return true;
    }
}
