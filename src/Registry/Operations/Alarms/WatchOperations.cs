using Hangfire;
using Microsoft.Extensions.Options;
using MimeKit;
using Npgsql;
using Registry.Outreach;
using Registry.Platform.Jobs;

namespace Registry.Operations.Alarms;

/// <summary>
/// Looks for problems every five minutes, remembers each from when it is noticed until it is gone, and tells it by mail once. A mail that
/// could not leave is tried again the next time. A worker that does not run cannot say so: monitors ask <c>/health/ready</c>.
/// </summary>
public sealed class WatchOperations(
    NpgsqlDataSource source, FindProblems find, IOptions<OperationsOptions> options, IOptions<OutreachOptions> outreach,
    IConfiguration configuration, TimeProvider time)
{
    [OneAtATime]
    [AutomaticRetry(Attempts = 0)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        // What runs this is the worker.
        var problems = (await find.RunAsync(ct)).Where(p => p.Kind != ProblemKind.NoWorker).ToList();
        await RememberAsync(problems, ct);
        var mailed = options.Value.AlarmTo.Length > 0 ? await MailAsync(problems, ct) : 0;
        return $"{problems.Count} {(problems.Count == 1 ? "problem" : "problems")}, {mailed} told by mail";
    }

    private async Task RememberAsync(IReadOnlyList<Problem> problems, CancellationToken ct)
    {
        var names = problems.Select(p => p.Name).ToArray();
        await using var batch = source.CreateBatch();
        batch.BatchCommands.Add(Command(
            "update alarms set ended_at = $2 where ended_at is null and problem <> all($1)", names, time.GetUtcNow()));
        batch.BatchCommands.Add(Command(
            "insert into alarms (id, problem, since) select gen_random_uuid(), name, $2 from unnest($1) name "
            + "on conflict (problem) where ended_at is null do nothing", names, time.GetUtcNow()));
        await batch.ExecuteNonQueryAsync(ct);
    }

    /// <summary>All that was not told yet, in one letter.</summary>
    private async Task<int> MailAsync(IReadOnlyList<Problem> problems, CancellationToken ct)
    {
        var told = new List<Guid>();
        var lines = new List<string>();
        await using (var command = source.CreateCommand(
            "select id, problem from alarms where ended_at is null and mailed_at is null order by since"))
        {
            await using var reader = await command.ExecuteReaderAsync(ct);
            while (await reader.ReadAsync(ct))
            {
                var name = reader.GetString(1);
                if (problems.FirstOrDefault(p => p.Name == name) is not { } problem) continue;
                told.Add(reader.GetGuid(0));
                lines.Add(OperationsWords.AlarmLine(problem));
            }
        }

        if (told.Count == 0) return 0;
        await using (var post = await MailRoute.OpenAsync(outreach.Value, configuration, ct))
        {
            using var message = Letter(lines);
            await post.SendAsync(message, told[0], ct);
        }

        await using var mark = source.CreateCommand("update alarms set mailed_at = $2 where id = any($1)");
        mark.Parameters.AddWithValue(told.ToArray());
        mark.Parameters.AddWithValue(time.GetUtcNow());
        await mark.ExecuteNonQueryAsync(ct);
        return told.Count;
    }

    private MimeMessage Letter(List<string> lines)
    {
        var message = new MimeMessage();
        message.From.Add(new MailboxAddress(outreach.Value.SenderName, outreach.Value.From));
        foreach (var to in options.Value.AlarmTo) message.To.Add(MailboxAddress.Parse(to));
        message.Subject = OperationsWords.AlarmSubject(lines.Count);
        message.Date = time.GetUtcNow();
        message.Body = new TextPart("plain") { Text = OperationsWords.AlarmText(lines) };
        return message;
    }

    private static NpgsqlBatchCommand Command(string sql, params object[] values)
    {
        var command = new NpgsqlBatchCommand(sql);
        foreach (var value in values) command.Parameters.AddWithValue(value);
        return command;
    }
}
