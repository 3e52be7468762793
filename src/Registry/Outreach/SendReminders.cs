using Hangfire;
using MailKit.Net.Smtp;
using Microsoft.Extensions.Options;
using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.Platform.Jobs;

namespace Registry.Outreach;

/// <summary>
/// Sends what is queued, each reminder at most once. A reminder is claimed (state <c>sending</c>, committed) before the mail server is
/// asked, and only if the family may still be written to at that moment. A clear refusal by the server is tried again later or marked
/// failed; a connection lost in between leaves it unknown whether the letter left, so it is marked failed with that reason and not sent
/// again by itself.
/// </summary>
/// <remarks>Queue <c>mail</c>, every ten minutes, one at a time, no retries: the next run goes on.</remarks>
public sealed class SendReminders(NpgsqlDataSource source, ProgramClock clock,
    IOptions<OutreachOptions> options, IOptions<ProgramOptions> program, IConfiguration configuration)
{
    public const string Unknown = "The worker or the connection broke off: the letter may have been delivered";

    private static readonly string Claim = EmbeddedSql.Of<SendReminders>("ClaimReminder")
        .Replace("{may_write}", MayWrite.Sql, StringComparison.Ordinal);

    private static readonly string Mark = EmbeddedSql.Of<SendReminders>("MarkReminder");

    [Queue(Queues.Mail)]
    [OneAtATime]
    [AutomaticRetry(Attempts = 0)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        var abandoned = await MarkAbandonedAsync(ct);
        await using var post = await MailRoute.OpenAsync(options.Value, configuration, ct);
        var (sent, failed) = (0, 0);
        while (sent + failed < options.Value.PerRun && !ct.IsCancellationRequested && await ClaimAsync(ct) is { } claimed)
        {
            // A claimed reminder is finished even when the worker is asked to stop.
            if (await SendAsync(post, claimed.Reminder, claimed.To, claimed.Language)) sent++;
            else failed++;
            if (post.IsBroken) break;
        }

        return $"{sent} reminders {post.Verb}, {failed} not, {abandoned} left in doubt by an earlier run";
    }

    private async Task<bool> SendAsync(MailRoute post, Reminder reminder, string to, string? language)
    {
        try
        {
            var spoken = program.Value.Languages is { Count: > 0 } written && !written.Contains("es") ? null : language;
            using var message = WriteLetter.Message(reminder, to, spoken, program.Value.Phone, options.Value, clock.Now);
            await post.SendAsync(message, reminder.Id, CancellationToken.None);
            await MarkAsync(reminder.Id, post.Reached, null, null);
            return true;
        }
        catch (SmtpCommandException refusal)
        {
            var temporary = (int)refusal.StatusCode is >= 400 and < 500 && reminder.Attempts < options.Value.MaxAttempts;
            await MarkAsync(reminder.Id, temporary ? ReminderState.Queued : ReminderState.Failed,
                $"The mail server refused it ({(int)refusal.StatusCode})",
                temporary ? clock.Now.AddMinutes(15 * Math.Pow(2, reminder.Attempts)) : null);
        }
        catch (Exception error) when (error is MimeKit.ParseException or FormatException)
        {
            await MarkAsync(reminder.Id, ReminderState.Failed, "The address cannot be read", null);
        }
        catch (Exception error) when (error is IOException or MailKit.ProtocolException or System.Net.Sockets.SocketException)
        {
            await MarkAsync(reminder.Id, ReminderState.Failed, Unknown, null);
        }

        return false;
    }

    /// <summary>Jobs run one at a time, so what is still "sending" now was left by a worker that died.</summary>
    private async Task<int> MarkAbandonedAsync(CancellationToken ct)
    {
        await using var command = source.CreateCommand("update reminders set state = 'failed', last_error = $1 where state = 'sending'");
        command.Parameters.AddWithValue(Unknown);
        return await command.ExecuteNonQueryAsync(ct);
    }

    private async Task<(Reminder Reminder, string To, string? Language)?> ClaimAsync(CancellationToken ct)
    {
        await using var command = source.CreateCommand(Claim);
        command.Parameters.AddWithValue("now", clock.Now);
        command.Parameters.AddWithValue("today", clock.Today);
        await using var r = await command.ExecuteReaderAsync(ct);
        if (!await r.ReadAsync(ct)) return null;
        return (new Reminder { Id = r.GetGuid(0), StopToken = r.GetString(1), Attempts = r.GetInt32(2) },
            FieldKeys.OfProcess.Decrypt(r.GetString(3), r.GetString(4))!, r.TextOrNull(5));
    }

    private async Task MarkAsync(Guid id, ReminderState state, string? error, DateTimeOffset? notBefore)
    {
        await using var command = source.CreateCommand(Mark);
        command.Parameters.AddWithValue("id", id);
        command.Parameters.AddCode<ReminderState>("state", state);
        command.Parameters.AddNullable("error", error, NpgsqlDbType.Text);
        command.Parameters.AddWithValue("now", clock.Now);
        command.Parameters.AddNullable("not_before", notBefore, NpgsqlDbType.TimestampTz);
        await command.ExecuteNonQueryAsync();
    }
}
