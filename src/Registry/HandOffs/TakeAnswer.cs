using System.Globalization;
using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Intake.Rows;
using Registry.Intake.Typing;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.HandOffs;

/// <summary>What somebody without an account answers.</summary>
public sealed class LinkForm
{
    /// <summary>The child's birth date: asked with every form, and kept in none.</summary>
    public DateOnly? BornOn { get; set; }

    /// <summary>Of a hand-off: whether it is accepted or comes back, and why.</summary>
    public HandOffAct? Act { get; set; }
    public string? Reason { get; set; }

    /// <summary>Of a result: there is none here.</summary>
    public bool Nothing { get; set; }

    /// <summary>What stands in the columns of the row, by their codes; a screen's have the ear behind them.</summary>
    public Dictionary<string, string?> Columns { get; set; } = [];

    public string? Of(string column) => Columns.GetValueOrDefault(column) is { Length: > 0 } value ? value : null;
}

/// <summary>What became of an answer by a link.</summary>
/// <param name="Taken">It was taken, and the link opens nothing any more.</param>
/// <param name="Problems">What is wrong with what was filled in.</param>
public sealed record TakenAnswer(bool Taken, IReadOnlyList<string> Problems);

/// <summary>
/// Takes an answer by a link, once. A result is a row like any other, of the site that was asked: the same checks, the same matching, and
/// held as a claim where that site has nothing to do with the infant. An acknowledgement is an event of the hand-off.
/// </summary>
public sealed class TakeAnswer(
    RegistryDb db, WriteForInfant write, AnswerHandOff answers, TypeRows type, ProgramClock clock, TimeProvider time,
    AuditActs audit)
{
    public async Task<TakenAnswer> RunAsync(LinkedQuestion question, LinkForm form, CancellationToken ct)
    {
        var request = question.Request;
        var taken = request.Purpose == AnswerPurpose.Acknowledgement ? await AcknowledgeAsync(request, form, ct)
            : form.Nothing ? await EndAsync(request, ct)
            : await SendAsync(request, question.BornOn, form, ct);
        if (taken.Taken) await audit.RecordAsync(AccessKind.AnswerAsked, request.Id, form.Nothing ? "no_result" : "answered",
            infant: request.InfantId);
        return taken;
    }

    private async Task<TakenAnswer> AcknowledgeAsync(AnswerRequest request, LinkForm form, CancellationToken ct)
    {
        var reason = HandOffWords.Read(form.Reason);
        if (form.Act is not (HandOffAct.Received or HandOffAct.Accepted or HandOffAct.Returned))
            return new(false, [HandOffWords.Of(HandOffAnswer.NotUnderstood)]);
        if (form.Act == HandOffAct.Returned && reason is null) return new(false, [HandOffWords.Of(HandOffAnswer.SayWhy)]);
        var answer = await write.RunAsync(request.InfantId, async () =>
        {
            if (await db.LockOpenAsync(request.Id, time.GetUtcNow(), ct) is null) return HandOffAnswer.NotOpen;
            var said = await answers.WriteAsync(request.HandOffId!.Value, new()
            {
                HandOffId = request.HandOffId.Value,
                Act = form.Act.Value,
                At = clock.Now,
                SiteId = request.ToSiteId,
                Reason = form.Act == HandOffAct.Returned ? reason : null,
            }, null, ct);
            if (said == HandOffAnswer.Recorded) await MarkAsync(request, null, ct);
            return said;
        }, ct);
        return new(answer == HandOffAnswer.Recorded, answer == HandOffAnswer.Recorded ? [] : [HandOffWords.Of(answer)]);
    }

    private async Task<TakenAnswer> SendAsync(AnswerRequest request, DateOnly born, LinkForm form, CancellationToken ct)
    {
        var site = request.ToSiteId!.Value;
        var rows = LinkRows.Of(request.Step, form, await WhoAsync(request.InfantId, site, born, ct));
        if (rows.Count == 0) return new(false, [TypingWords.NothingTyped]);
        var trial = await type.TryAsync(site, rows, ct);
        var problems = trial is null ? [TypingWords.NotStored] : trial.Errors.Select(e => e.Reason)
            .Concat(trial.Outcomes.Where(o => o.Outcome == Codes.Of(RowOutcome.Rejected)).SelectMany(o => o.Problems)
                .Select(p => TypingWords.Problem(p))).Distinct().ToList();
        if (problems.Count > 0) return new(false, problems);
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        if (await db.LockOpenAsync(request.Id, time.GetUtcNow(), ct) is null) return new(false, [AskWords.NotOpened]);
        // By the request's own key: should this end before it is marked, the same answer sent again is that submission.
        if (await type.SaveAsync(site, rows, request.Id, ct) is not { } saved) return new(false, [TypingWords.NotStored]);
        await MarkAsync(request, saved, ct);
        await transaction.CommitAsync(ct);
        return new(true, []);
    }

    private async Task<TakenAnswer> EndAsync(AnswerRequest request, CancellationToken ct)
    {
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        if (await db.LockOpenAsync(request.Id, time.GetUtcNow(), ct) is null) return new(false, [AskWords.NotOpened]);
        await MarkAsync(request, null, ct);
        await transaction.CommitAsync(ct);
        return new(true, []);
    }

    private Task<int> MarkAsync(AnswerRequest request, SubmissionId? submission, CancellationToken ct) =>
        db.AnswerRequests.Where(r => r.Id == request.Id).ExecuteUpdateAsync(u => u.SetProperty(r => r.AnsweredAt, clock.Now)
            .SetProperty(r => r.SubmissionId, submission), ct);

    /// <summary>The columns that say who it is about, as the record knows it: the site's own number, else a card, and the birth.</summary>
    private async Task<Dictionary<Field, string>> WhoAsync(InfantId infant, SiteId site, DateOnly born, CancellationToken ct)
    {
        var numbers = await db.InfantIdentifiers.AsNoTracking().Where(i => i.InfantId == infant && i.SupersededAt == null).ToListAsync(ct);
        var birth = await db.Births.AsNoTracking().SingleAsync(b => b.InfantId == infant && b.SupersededAt == null, ct);
        var who = new Dictionary<Field, string> { [Field.BirthDate] = Day(born) };
        if (numbers.Find(n => n.SiteId == site && n.Kind == IdentifierKind.RecordNumber) is { } own) who[Field.RecordNumber] = own.Value;
        else if (numbers.Find(n => n.Kind == IdentifierKind.CardId) is { } card) who[Field.CardId] = card.Value;
        if (birth.Sex != Sex.Unknown) who[Field.Sex] = Codes.Of(birth.Sex);
        if (birth.MotherGivenName is { } given) who[Field.MotherGivenName] = given;
        if (birth.MotherFamilyName is { } family) who[Field.MotherFamilyName] = family;
        if (birth.MotherBornOn is { } mother) who[Field.MotherBirthDate] = Day(mother);
        if (birth.BirthOrder is { } order) who[Field.BirthOrder] = order.ToString(CultureInfo.InvariantCulture);
        return who;
    }

    private static string Day(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
}
