using Microsoft.Extensions.Options;
using MimeKit;
using Npgsql;
using Registry.Outreach;
using Registry.Rules.Facts;

namespace Registry.Operations.Alarms;

/// <summary>Remembers each problem from when it is noticed until it is gone, and tells it by mail once, whichever process noticed it. A
/// mail that could not leave is tried again the next time.</summary>
public sealed class TellProblems(
    NpgsqlDataSource source, IOptions<OperationsOptions> options, IOptions<OutreachOptions> outreach, IConfiguration configuration,
    TimeProvider time)
{
    private MailboxAddress[] To => [.. options.Value.AlarmTo.Where(to => !string.IsNullOrWhiteSpace(to)).Select(MailboxAddress.Parse)];

    /// <param name="kinds">What was looked for: a problem of another kind is left as it is.</param>
    /// <param name="problems">What was found.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>How many were told by mail.</returns>
    public async Task<int> RunAsync(IReadOnlyList<ProblemKind> kinds, IReadOnlyList<Problem> problems, CancellationToken ct)
    {
        await RememberAsync(kinds, problems, ct);
        return To.Length > 0 ? await MailAsync(problems, ct) : 0;
    }

    private async Task RememberAsync(IReadOnlyList<ProblemKind> kinds, IReadOnlyList<Problem> problems, CancellationToken ct)
    {
        var names = problems.Select(p => p.Name).ToArray();
        await using var batch = source.CreateBatch();
        batch.BatchCommands.Add(Command(
            "update alarms set ended_at = $2 where ended_at is null and problem <> all($1) and split_part(problem, ':', 1) = any($3)",
            names, time.GetUtcNow(), kinds.Select(k => Codes.Of(k)).ToArray()));
        batch.BatchCommands.Add(Command(
            "insert into alarms (id, problem, since) select gen_random_uuid(), name, $2 from unnest($1) name "
            + "on conflict (problem) where ended_at is null do nothing", names, time.GetUtcNow()));
        await batch.ExecuteNonQueryAsync(ct);
    }

    /// <summary>All that was not told yet, in one letter. What another process is telling at this moment is left to it.</summary>
    private async Task<int> MailAsync(IReadOnlyList<Problem> problems, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);
        var told = new List<Guid>();
        var lines = new List<string>();
        await using (var command = new NpgsqlCommand(
            "select id, problem from alarms where ended_at is null and mailed_at is null order by since for update skip locked",
            connection))
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

        await using var mark = new NpgsqlCommand("update alarms set mailed_at = $2 where id = any($1)", connection);
        mark.Parameters.AddWithValue(told.ToArray());
        mark.Parameters.AddWithValue(time.GetUtcNow());
        await mark.ExecuteNonQueryAsync(ct);
        await transaction.CommitAsync(ct);
        return told.Count;
    }

    private MimeMessage Letter(List<string> lines)
    {
        var message = new MimeMessage();
        message.From.Add(new MailboxAddress(outreach.Value.SenderName, outreach.Value.From));
        message.To.AddRange(To);
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
