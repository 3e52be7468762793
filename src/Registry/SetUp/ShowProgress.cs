using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Access;
using Registry.Outreach;
using Registry.Platform;
using Registry.Records;

namespace Registry.SetUp;

/// <summary>A step, whether it is done, and where it is.</summary>
public sealed record StepState(SetUpStep Step, bool Done, string Page);

/// <summary>A line of the check list.</summary>
/// <param name="Done">It is there.</param>
/// <param name="Says">What.</param>
/// <param name="Page">Where it is seen to.</param>
public sealed record CheckItem(bool Done, string Says, string Page);

/// <summary>How far the set-up is, seen from what is there: nothing is ticked by hand.</summary>
public sealed class ShowProgress(
    RegistryDb db, Viewer viewer, MailStaff mail, IOptions<ProgramOptions> program, TimeProvider clock)
{
    public static string PageOf(SetUpStep step) => step switch
    {
        SetUpStep.Program => "/setup/program",
        SetUpStep.Policy => "/setup/policy",
        SetUpStep.Mail => "/setup/mail",
        SetUpStep.Places => "/places",
        SetUpStep.People => "/access/people",
        _ => "/access/keys",
    };

    /// <summary>The steps in their order.</summary>
    public async Task<IReadOnlyList<StepState>> StepsAsync(CancellationToken ct)
    {
        var answered = await db.AnsweredSteps.Select(s => s.Step).ToListAsync(ct);
        var done = answered.ToHashSet();
        if (await db.Sites.AnyAsync(s => s.Active, ct)) done.Add(SetUpStep.Places);
        if (await db.Users.AnyAsync(p => p.Id != viewer.PersonId && p.DisabledAt == null, ct)) done.Add(SetUpStep.People);
        if (await db.SiteKeys.AnyAsync(ct) || await db.Submissions.AnyAsync(ct)) done.Add(SetUpStep.Key);
        return [.. Enum.GetValues<SetUpStep>().Select(s => new StepState(s, done.Contains(s), PageOf(s)))];
    }

    /// <summary>Where the set-up goes on; null when every step is done.</summary>
    public async Task<string?> NextAsync(CancellationToken ct) => (await StepsAsync(ct)).FirstOrDefault(s => !s.Done)?.Page;

    /// <summary>What a registry in service has, and whether this one has it.</summary>
    public async Task<IReadOnlyList<CheckItem>> ListAsync(CancellationToken ct)
    {
        var steps = (await StepsAsync(ct)).ToDictionary(s => s.Step, s => s.Done);
        var open = await db.Sites.AsNoTracking().Where(s => s.Active).ToListAsync(ct);
        var uncalled = open.Count(s => s.Contact is null);
        var people = await db.Users.AsNoTracking().Where(p => p.DisabledAt == null).ToListAsync(ct);
        var dayAgo = clock.GetUtcNow().AddDays(-1);
        return
        [
            new(steps[SetUpStep.Program], SetUpWords.ProgramStated, "/setup/program"),
            new(!string.IsNullOrEmpty(program.Value.PrivacyContact), SetUpWords.PrivacyNamed, "/setup/program"),
            new(steps[SetUpStep.Policy], SetUpWords.PolicyChosen, "/setup/policy"),
            new(steps[SetUpStep.Mail] && mail.HasServer, SetUpWords.MailTried, "/setup/mail"),
            new(open.Any(s => s.Kind.HasBirths()), SetUpWords.BirthingSite, "/places"),
            new(open.Count > 0 && uncalled == 0, SetUpWords.Called(uncalled), "/places"),
            new(people.Any(p => p.Role == Role.Coordinator && p.PasswordHash is not null), SetUpWords.Coordinator, "/access/people"),
            new(people.Count(p => p.Role == Role.Administrator) > 1, SetUpWords.SecondAdministrator, "/access/people"),
            new(people.Where(p => Permissions.SeesSeveralSites(p.Role) && p.PasswordHash is not null).All(p => p.TwoFactorEnabled),
                SetUpWords.SecondFactors, "/access/people"),
            new(await db.Submissions.AnyAsync(s => s.Accepted > 0, ct), SetUpWords.FirstUpload, "/access/keys"),
            new(await db.Database.SqlQuery<bool>($"select exists (select from backups where taken_at > {dayAgo}) as \"Value\"")
                .SingleAsync(ct), SetUpWords.Backup, "/operations"),
        ];
    }

    /// <summary>A step was answered on its page.</summary>
    public async Task AnswerAsync(SetUpStep step, CancellationToken ct)
    {
        if (await db.AnsweredSteps.AnyAsync(s => s.Step == step, ct)) return;
        db.AnsweredSteps.Add(new() { Step = step, AnsweredAt = clock.GetUtcNow(), AnsweredBy = viewer.PersonId!.Value });
        try
        {
            await db.SaveChangesAsync(ct);
        }
        catch (DbUpdateException e) when (e.InnerException is PostgresException { SqlState: PostgresErrorCodes.UniqueViolation })
        {
            // Answered by another administrator at the same moment.
        }
    }
}
