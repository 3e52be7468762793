using Hangfire;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Access;
using Registry.Intake.Applying;
using Registry.Intake.Formats;
using Registry.Intake.Raw;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.Receiving;

/// <summary>How long a door waits for what becomes of the rows.</summary>
/// <param name="Rows">So many are worked through before it answers; a submission of more goes on in the background.</param>
/// <param name="ForOthers">Waits for another worker that is at them, too.</param>
public readonly record struct Patience(int Rows, bool ForOthers)
{
    /// <summary>Until all rows have their outcome.</summary>
    public static readonly Patience UntilFinished = new(int.MaxValue, ForOthers: true);
}

/// <summary>
/// Takes in what was sent, whichever door it came through: stored and committed, then worked through at once or in the background. Small
/// files that come at the same moment share a transaction.
/// </summary>
public sealed class Submit(
    ReceiveSubmission receive, ShareCommit share, LimitStorage storage, ProcessSubmission process, TryRows tryRows,
    IOptions<IntakeOptions> options, SlowUnmatched slow, IServiceProvider services, ILogger<Submit> log)
{
    /// <summary>Looks at a submission that another worker is at, a tenth of a second apart.</summary>
    private const int Looks = 100;

    /// <summary>What a door waits for that has no other wish: the outcomes of few rows.</summary>
    public Patience FewRows => new(options.Value.InlineRows, ForOthers: false);

    /// <param name="sent">What is stated with the bytes.</param>
    /// <param name="body">The bytes, read once.</param>
    /// <param name="length">How many the sender says there are; null when they are at hand.</param>
    /// <param name="patience">How long the door waits.</param>
    /// <param name="ct">Cancels, up to the commit.</param>
    public async Task<Submitted> RunAsync(SentFile sent, Stream body, long? length, Patience patience, CancellationToken ct)
    {
        SubmissionId? kept = null;
        try
        {
            if (await SlowedDownAsync(sent, ct) is { } slowed) return slowed;
            if (length is > 0 and <= ShareCommit.MaxBytes)
            {
                // Before a connection to the database is taken: however slowly it comes, nobody else waits for one.
                var small = new byte[(int)length];
                await body.ReadExactlyAsync(small, ct);
                if (ShareCommit.Takes(sent) && await storage.LeftAsync(sent.SiteId, ct) >= small.Length
                    && await share.TryAsync(sent, small) is { } committed)
                {
                    storage.Took(sent.SiteId, small.Length);
                    return committed;
                }

                body = new MemoryStream(small);
            }

            var receipt = await receive.ReceiveAsync(sent, body, ct);
            if (WhyNot(receipt.Kind) is { } why) return new Submitted.Nothing(why);
            kept = receipt.Id;
            await WorkThroughAsync(receipt, patience, ct);
            return new Submitted.Stored(receipt.Id, receipt.RowCount, receipt.Kind == ReceiptKind.Repeated);
        }
        catch (BadHttpRequestException e)
        {
            return new Submitted.Nothing(WhyNot(e));
        }
        catch (NpgsqlException e)
        {
            log.LogError("A submission could not be {Step}: {Error}", kept is null ? "taken in" : "worked through", DatabaseOutage.Name(e));
            if (kept is { } id) return new Submitted.Kept(id);
            return new Submitted.Nothing(DatabaseOutage.IsCauseOf(e) ? NotStored.Outage : NotStored.Fault);
        }
    }

    /// <summary>What would become of it if it were sent in earnest at this moment; nothing of it is stored.</summary>
    public async Task<Submitted> TryAsync(SentFile sent, Stream body, Viewer viewer, AuditReads audit, CancellationToken ct)
    {
        try
        {
            if (await SlowedDownAsync(sent, ct) is { } slowed) return slowed;
            return await tryRows.RunAsync(sent, body, viewer, audit, ct) is { } trial
                ? new Submitted.Tried(trial) : new Submitted.Nothing(NotStored.TooLargeToTry);
        }
        catch (BadHttpRequestException e)
        {
            return new Submitted.Nothing(WhyNot(e));
        }
    }

    private async Task<Submitted.Nothing?> SlowedDownAsync(SentFile sent, CancellationToken ct) =>
        await slow.SecondsAsync(sent.SiteId, ct) is > 0 and var seconds ? new(NotStored.SlowedDown, seconds) : null;

    private async Task WorkThroughAsync(Receipt receipt, Patience patience, CancellationToken ct)
    {
        if (receipt.Kind == ReceiptKind.Refused) return;
        if (receipt.RowCount > patience.Rows)
        {
            if (receipt.Kind == ReceiptKind.Received) Nudge(receipt.Id);
            return;
        }

        if (receipt.Kind == ReceiptKind.Repeated && !patience.ForOthers) return;
        for (var look = 0; !await process.RunAsync(receipt.Id.Value, CancellationToken.None) && patience.ForOthers && look < Looks; look++)
            await Task.Delay(100, ct);
    }

    /// <summary>Starts a background run. Without a job server, or when it cannot be told, the sweep will find the submission.</summary>
    private void Nudge(SubmissionId id)
    {
        try
        {
            services.GetService<IBackgroundJobClient>()?.Enqueue<ProcessSubmission>(p => p.RunAsync(id.Value, CancellationToken.None));
        }
        catch (BackgroundJobClientException e)
        {
            log.LogWarning("Submission {SubmissionId} waits for the sweep: {Error}", id.Value, e.InnerException?.GetType().Name);
        }
    }

    private static NotStored? WhyNot(ReceiptKind kind) => kind switch
    {
        ReceiptKind.TooLarge => NotStored.TooLarge,
        ReceiptKind.StorageFull => NotStored.StorageFull,
        ReceiptKind.KeyReused => NotStored.KeyReused,
        ReceiptKind.KeyInUse => NotStored.KeyInUse,
        _ => null,
    };

    private static NotStored WhyNot(BadHttpRequestException e) => e.StatusCode switch
    {
        StatusCodes.Status408RequestTimeout => NotStored.TooSlow,
        StatusCodes.Status413PayloadTooLarge => NotStored.TooLarge,
        _ => NotStored.BrokeOff,
    };
}
