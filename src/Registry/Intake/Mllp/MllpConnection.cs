using System.Buffers;
using System.Net;
using Microsoft.AspNetCore.Connections;
using Microsoft.AspNetCore.Connections.Features;
using Microsoft.AspNetCore.Http.Features;
using Registry.Access;
using Registry.Intake.Formats.Hl7V2;
using Registry.Intake.Receiving;
using Registry.Records;

namespace Registry.Intake.Mllp;

/// <summary>
/// One MLLP connection: a frame is taken in, committed and answered before the next is looked at, so answers come in the order of the
/// messages, however many are sent ahead. Who is not listed is closed without a word.
/// </summary>
internal sealed class MllpConnection(MllpListener listener, MllpOptions options, AnswerMessages answer, FindSite sites, LimitSenders limits,
    ILogger log)
{
    public async Task RunAsync(ConnectionContext connection)
    {
        var address = (connection.RemoteEndPoint as IPEndPoint)?.Address;
        var certificate = connection.Features.Get<ITlsConnectionFeature>()?.ClientCertificate;
        var fingerprint = certificate is null ? null : CertificatePins.Of(certificate);
        var senders = listener.Senders.Where(s => s.Admits(address, fingerprint)).ToList();
        if (senders.Count == 0)
        {
            log.LogWarning("MLLP: a connection from {Address} was refused: it is no listed sender", address);
            return;
        }

        var sender = fingerprint ?? address!.ToString();
        using var held = limits.Connect(sender);
        if (!held.IsAcquired)
        {
            log.LogWarning("MLLP: a connection from {Address} was refused: its sender holds {Most} already", address,
                options.ConnectionsPerSender);
            return;
        }

        var closing = connection.Features.Get<IConnectionLifetimeNotificationFeature>()?.ConnectionClosedRequested ?? default;
        using var wait = CancellationTokenSource.CreateLinkedTokenSource(connection.ConnectionClosed, closing);
        try
        {
            await ConverseAsync(connection, sender, senders, wait);
        }
        catch (OperationCanceledException)
        {
            // Idle too long, a frame that did not end, the sender gone, or the program stopping: what was answered is committed.
        }
        catch (Exception e) when (e is ConnectionResetException or IOException)
        {
            log.LogInformation("MLLP: a connection broke off");
        }
    }

    private async Task ConverseAsync(ConnectionContext connection, string sender, List<MllpSender> senders,
        CancellationTokenSource wait)
    {
        var input = connection.Transport.Input;
        var inFrame = false;
        wait.CancelAfter(TimeSpan.FromSeconds(options.IdleSeconds));
        while (true)
        {
            var read = await input.ReadAsync(wait.Token);
            var buffer = read.Buffer;
            FrameState state;
            while ((state = MllpFrames.TryRead(ref buffer, options.MaxFrameBytes, out var content)) == FrameState.Frame)
            {
                wait.CancelAfter(Timeout.InfiniteTimeSpan);
                await limits.WaitAsync(sender, wait.Token);
                if (!await AnswerAsync(connection, senders, content.ToArray())) return;
                inFrame = false;
                wait.CancelAfter(TimeSpan.FromSeconds(options.IdleSeconds));
            }

            if (state is FrameState.Malformed or FrameState.TooLarge)
            {
                await RefuseFrameAsync(connection, buffer, state);
                input.AdvanceTo(buffer.End);
                return;
            }

            if (!buffer.IsEmpty && !inFrame)
            {
                inFrame = true;
                wait.CancelAfter(TimeSpan.FromSeconds(options.FrameSeconds));
            }

            input.AdvanceTo(buffer.Start, buffer.End);
            if (read.IsCompleted) return;
        }
    }

    /// <returns>False when there is no answer to give: the connection is closed, and the sender sends again.</returns>
    private async Task<bool> AnswerAsync(ConnectionContext connection, List<MllpSender> senders, byte[] content)
    {
        var reply = new ArrayBufferWriter<byte>(512);
        switch (SiteOf(content, senders, out var code))
        {
            case Speaker.None:
                answer.Reject(content, 103, "MSH-4 is no facility this connection may speak for", reply, headerField: 4);
                break;
            case Speaker.Several:
                answer.Reject(content, 103, "the messages of one batch must come from one site (MSH-4)", reply, headerField: 4);
                break;
            default:
                if (!await AnswerForAsync(code!, content, reply)) return false;
                break;
        }

        MllpFrames.Write(connection.Transport.Output, reply.WrittenSpan);
        await connection.Transport.Output.FlushAsync(connection.ConnectionClosed);
        return true;
    }

    private async Task<bool> AnswerForAsync(string code, byte[] content, ArrayBufferWriter<byte> reply)
    {
        SiteId? site = null;
        try
        {
            site = await sites.ByCodeAsync(code, CancellationToken.None);
            if (site is null) log.LogError("MLLP: there is no site with the configured code {Site}", code);
        }
        catch (Npgsql.NpgsqlException e)
        {
            log.LogError("MLLP: the database does not answer: {Error}", e.GetType().Name);
        }

        if (site is { } known) return await answer.RunAsync(known, content, reply, CancellationToken.None);
        answer.RejectForFault(content, reply);
        return true;
    }

    private enum Speaker { One, None, Several }

    /// <summary>The site whose facility the messages name; a sender without a facility takes what no other does.</summary>
    private static Speaker SiteOf(byte[] content, List<MllpSender> senders, out string? code)
    {
        code = null;
        var split = new SplitMessages();
        var message = new Hl7V2Message();
        for (var at = 0; ;)
        {
            while (split.Next(at == content.Length, out var part))
            {
                if (part.Kind != PartKind.Message) continue;
                message.Read(part.Bytes.Span);
                if (SenderOf(message, senders)?.Site is not { } site) return Speaker.None;
                if (code is not null && !code.Equals(site, StringComparison.OrdinalIgnoreCase)) return Speaker.Several;
                code = site;
            }

            if (at == content.Length) break;
            var free = split.Free();
            var length = Math.Min(free.Length, content.Length - at);
            content.AsMemory(at, length).CopyTo(free);
            split.Filled(length);
            at += length;
        }

        // Bytes that are no message are taken in, and refused, for the one site there can be.
        code ??= senders.Select(s => s.Site).Distinct(StringComparer.OrdinalIgnoreCase).ToList() is [var only] ? only : null;
        return code is null ? Speaker.None : Speaker.One;
    }

    private static MllpSender? SenderOf(Hl7V2Message message, List<MllpSender> senders)
    {
        var (name, id) = message.SegmentCount == 0 ? ("", "") : (message.Value(0, 4).ToString(), message.Value(0, 4, 2).ToString());
        return senders.Find(s => s.Facility is { Length: > 0 } f
            && (f.Equals(name, StringComparison.OrdinalIgnoreCase) || f.Equals(id, StringComparison.OrdinalIgnoreCase)))
            ?? (senders.Where(s => string.IsNullOrEmpty(s.Facility)).ToList() is [var only] ? only : null);
    }

    private async Task RefuseFrameAsync(ConnectionContext connection, ReadOnlySequence<byte> buffer, FrameState state)
    {
        var reply = new ArrayBufferWriter<byte>(512);
        var head = buffer.Slice(0, Math.Min(buffer.Length, 4_096)).ToArray();
        var content = head is [MllpFrames.Start, ..] ? head.AsMemory(1) : default;
        answer.Reject(content, state == FrameState.TooLarge ? 102 : 100, state == FrameState.TooLarge
            ? $"the frame is longer than {options.MaxFrameBytes} bytes; the connection is closed"
            : "not framed as MLLP (0x0B, content, 0x1C 0x0D); the connection is closed", reply);
        MllpFrames.Write(connection.Transport.Output, reply.WrittenSpan);
        await connection.Transport.Output.FlushAsync(connection.ConnectionClosed);
    }
}
