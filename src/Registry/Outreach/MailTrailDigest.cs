using Hangfire;
using Microsoft.Extensions.Options;
using MimeKit;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Jobs;

namespace Registry.Outreach;

/// <summary>Writes down nightly how the access trail ended, and mails it to whoever keeps such letters outside the program: a trail
/// rewritten later no longer ends as the letter says.</summary>
/// <remarks>Queue <c>mail</c>, nightly, one at a time, three retries.</remarks>
public sealed class MailTrailDigest(
    DigestTrail digest, ProgramClock clock, IOptions<OutreachOptions> options, IOptions<ProgramOptions> program,
    IConfiguration configuration)
{
    [Queue(Queues.Mail)]
    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        if (await digest.RunAsync(ct) is not { } written) return "nothing new in the access trail";
        if (options.Value.DigestTo is not { Length: > 0 } to)
            return "digest written to the log; Outreach:DigestTo names nobody to mail it to";
        using var message = new MimeMessage(
            [new MailboxAddress(options.Value.SenderName, options.Value.From)], [MailboxAddress.Parse(to)],
            $"Access trail of {program.Value.Name}",
            new TextPart("plain")
            {
                Text = $"{DigestTrail.Say(written)}\n\nKeep this letter outside the program. The verb verify-audit checks the trail; "
                    + "what it says of this day must be the same.\n",
            })
        { Date = clock.Now };
        await using var post = await MailRoute.OpenAsync(options.Value, configuration, ct);
        await post.SendAsync(message, Guid.CreateVersion7(), ct);
        return $"digest of {written.Day:yyyy-MM-dd} {post.Verb}";
    }
}
