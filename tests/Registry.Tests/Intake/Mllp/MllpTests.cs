using System.Net;
using System.Net.Security;
using System.Net.Sockets;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Options;
using Registry.Intake.Mllp;
using Registry.Tests.Architecture;
using Registry.Tests.Intake.Formats.Hl7V2;
using Registry.Tests.Intake.Receiving;

namespace Registry.Tests.Intake.Mllp;

/// <summary>HL7 v2 over MLLP on a loopback port.</summary>
public sealed class MllpTests(TestDatabase database)
{
    /// <summary>The messages are built by one npm library (simple-hl7) and sent, and their answers read, by another
    /// (node-hl7-client).</summary>
    [Fact]
    public async Task Independent_libraries_send_and_understand_the_answers()
    {
        await using var bed = await StartAsync(database);
        Assert.Equal(["AA A-4711", "AA R-4711", "AA A-4712", "AA R-4712"],
            await NodeTool.RunAsync(SourceTree.Root, "send.js", [Port(bed), "4711", "4712"], IntakeBed.Ct));
        Assert.Equal(["4711 Mårlow-4711 left pass", "4711 Mårlow-4711 right pass", "4712 Mårlow-4712 left pass",
            "4712 Mårlow-4712 right pass"], await bed.ListAsync(
            """
            select concat_ws(' ', i.value, b.mother_family_name, s.ear, s.outcome)
              from screenings s join births b using (infant_id) join infant_identifiers i using (infant_id) order by i.value, s.ear
            """));
    }

    [Fact]
    public async Task Messages_sent_ahead_are_answered_in_order_however_they_are_cut()
    {
        await using var bed = await StartAsync(database);
        using var client = await ConnectAsync(bed);
        var all = Enumerable.Range(1, 12)
            .SelectMany(i => Frame(Messages.Admission(number: $"{i}", control: $"C-{i}", born: $"202611{i:00}0400"))).ToArray();
        foreach (var piece in all.Chunk(97)) await client.GetStream().WriteAsync(piece, IntakeBed.Ct);
        for (var i = 1; i <= 12; i++) Assert.Contains($"MSA|AA|C-{i}\r", await ReceiveAsync(client.GetStream()), StringComparison.Ordinal);
        Assert.Equal(12, await bed.CountAsync("infants"));
    }

    [Fact]
    public async Task What_is_not_framed_is_answered_and_closed()
    {
        await using var bed = await StartAsync(database, ("Mllp:MaxFrameBytes", "2000"));
        foreach (var (bytes, reason) in new (byte[], string)[]
        {
            ("GET / HTTP/1.1\r\n"u8.ToArray(), "not framed as MLLP"),
            ([0x0B, .. new byte[3_000].Select(_ => (byte)'x')], "longer than 2000 bytes"),
            ([0x0B, .. "MSH|^~\\&|"u8, 0x1C, (byte)'x'], "not framed as MLLP"),
        })
        {
            using var client = await ConnectAsync(bed);
            await client.GetStream().WriteAsync(bytes, IntakeBed.Ct);
            var answer = await ReceiveAsync(client.GetStream());
            Assert.Equal("AR", AcknowledgementTests.Code(answer));
            Assert.Contains(reason, answer, StringComparison.Ordinal);
            Assert.Equal(0, await client.GetStream().ReadAsync(new byte[10], IntakeBed.Ct));
        }
    }

    [Fact]
    public async Task An_idle_connection_and_a_frame_that_does_not_end_are_closed()
    {
        await using var bed = await StartAsync(database, ("Mllp:IdleSeconds", "1"), ("Mllp:FrameSeconds", "1"));
        using var idle = await ConnectAsync(bed);
        using var slow = await ConnectAsync(bed);
        await slow.GetStream().WriteAsync(Frame(Messages.Admission()).AsMemory()[..^2], IntakeBed.Ct);
        Assert.Equal(0, await idle.GetStream().ReadAsync(new byte[10], IntakeBed.Ct));
        Assert.Equal(0, await slow.GetStream().ReadAsync(new byte[10], IntakeBed.Ct));
        Assert.Equal(0, await bed.CountAsync("submissions"));
    }

    [Fact]
    public async Task Who_is_not_listed_gets_no_answer()
    {
        await using var bed = await StartAsync(database, ("Mllp:Listeners:0:Senders:0:Addresses:0", "192.0.2.0/24"));
        using var client = await ConnectAsync(bed);
        await Assert.ThrowsAnyAsync<IOException>(() => AskAsync(client.GetStream(), Messages.Admission()));
        Assert.Equal(0, await bed.CountAsync("submissions"));
    }

    [Fact]
    public async Task A_sender_holds_so_many_connections_and_sends_so_much_and_others_are_not_slowed()
    {
        await using var bed = await StartAsync(database, ("Mllp:ConnectionsPerSender", "2"), ("Mllp:FramesPerMinutePerSender", "6"));
        using var first = await ConnectAsync(bed);
        Assert.Equal("AA", AcknowledgementTests.Code(await AskAsync(first.GetStream(), Messages.Admission())));
        using (var second = await ConnectAsync(bed))
        {
            Assert.Equal("AA", AcknowledgementTests.Code(await AskAsync(second.GetStream(), Messages.Admission())));
            using var third = await ConnectAsync(bed);
            await Assert.ThrowsAnyAsync<IOException>(() => AskAsync(third.GetStream(), Messages.Admission()));
        }

        // The limit is of the sender, not of the connection: what is beyond it waits for its turn and is answered then.
        for (var i = 0; i < 4; i++) await AskAsync(first.GetStream(), Messages.Admission());
        var clock = System.Diagnostics.Stopwatch.StartNew();
        Assert.Equal("AA", AcknowledgementTests.Code(await AskAsync(first.GetStream(), Messages.Admission())));
        Assert.True(clock.Elapsed > TimeSpan.FromSeconds(1), $"{clock.Elapsed}"); // a token comes every ten seconds
        Assert.Equal(1, await bed.CountAsync("submissions"));
    }

    [Theory]
    [InlineData("0.0.0.0")]
    [InlineData("::")]
    [InlineData("192.0.2.7")]
    public async Task Off_loopback_a_certificate_is_asked_of_both_sides(string address)
    {
        var refused = await Assert.ThrowsAsync<OptionsValidationException>(() =>
            IntakeBed.StartAsync(database, new Dictionary<string, string?>
            {
                ["Mllp:Listeners:0:Address"] = address,
                ["Mllp:Listeners:0:Senders:0:Site"] = "harbour",
                ["Mllp:Listeners:0:Senders:0:Addresses:0"] = "127.0.0.1",
            }));
        Assert.Equal(
        [
            "Mllp:Listeners:0: Certificate is required on an address that is not loopback",
            "Mllp:Listeners:0: Senders:0: ClientCertificates is required on an address that is not loopback",
        ], refused.Failures);
    }

    [Fact]
    public async Task The_facility_says_which_of_the_connections_sites_speaks()
    {
        await using var bed = await StartAsync(database,
            ("Mllp:Listeners:0:Senders:0:Facility", "HARBOUR"), ("Mllp:Listeners:0:Senders:1:Site", "hill"),
            ("Mllp:Listeners:0:Senders:1:Facility", "1.2.3"), ("Mllp:Listeners:0:Senders:1:Addresses:0", "127.0.0.1"));
        using var client = await ConnectAsync(bed);
        var hill = Messages.Admission(number: "1", control: "H-1", born: "202611190400")
            .Replace("|WARD|HARBOUR|", "|WARD|HILL^1.2.3^ISO|", StringComparison.Ordinal);
        Assert.Equal("AA", AcknowledgementTests.Code(await AskAsync(client.GetStream(), Messages.Admission())));
        Assert.Equal("AA", AcknowledgementTests.Code(await AskAsync(client.GetStream(), hill)));
        var stranger = await AskAsync(client.GetStream(), Messages.Admission(control: "X-1")
            .Replace("|WARD|HARBOUR|", "|WARD|OTHER|", StringComparison.Ordinal));
        Assert.Contains("MSA|AR|X-1\rERR||MSH^1^4|103^Table value not found^HL70357|E||||MSH-4 is no facility", stranger,
            StringComparison.Ordinal);
        Assert.Contains("must come from one site", await AskAsync(client.GetStream(),
            "BHS|^~\\&\r" + Messages.Admission(control: "B-1") + hill + "BTS|2\r"), StringComparison.Ordinal);
        Assert.Equal(["harbour", "hill"], await bed.ListAsync("select s.code from submissions join sites s on s.id = site_id order by 1"));
    }

    [Fact]
    public async Task A_fault_of_the_registry_is_rejected_and_the_same_message_taken_in_later()
    {
        await using var bed = await StartAsync(database);
        using var client = await ConnectAsync(bed);
        await ExecuteAsync("alter table submission_chunks rename to away");
        var fault = await AskAsync(client.GetStream(), Messages.Admission());
        Assert.Contains("MSA|AR|A-1\rERR|||207^Application internal error^HL70357|E||||a fault of the registry: send the message again, "
            + "unchanged", fault, StringComparison.Ordinal);
        await ExecuteAsync("alter table away rename to submission_chunks");
        Assert.Equal("AA", AcknowledgementTests.Code(await AskAsync(client.GetStream(), Messages.Admission())));
        Assert.Equal("AA", AcknowledgementTests.Code(await AskAsync(client.GetStream(), Messages.Admission())));
        Assert.Equal(1, await bed.CountAsync("submissions"));

        Task ExecuteAsync(string sql) => bed.App.AsOwnerAsync(sql);
    }

    [Fact]
    public async Task Over_TLS_a_certificate_says_who_sends()
    {
        var folder = Directory.CreateTempSubdirectory("registry-mllp-").FullName;
        try
        {
            using var server = Certificate("localhost");
            using var known = Certificate("harbour");
            using var unknown = Certificate("stranger");
            var (pem, key) = (Path.Combine(folder, "server.pem"), Path.Combine(folder, "server.key"));
            await System.IO.File.WriteAllTextAsync(pem, server.ExportCertificatePem(), IntakeBed.Ct);
            await System.IO.File.WriteAllTextAsync(key, server.GetRSAPrivateKey()!.ExportPkcs8PrivateKeyPem(), IntakeBed.Ct);
            await using var bed = await StartAsync(database, ("Mllp:Listeners:0:Certificate", pem),
                ("Mllp:Listeners:0:CertificateKey", key),
                ("Mllp:Listeners:0:Senders:0:ClientCertificates:0", known.GetCertHashString(HashAlgorithmName.SHA256).ToLowerInvariant()));
            using (var client = await ConnectAsync(bed))
            {
                await using var tls = await SecureAsync(client, known, server);
                Assert.Equal("AA", AcknowledgementTests.Code(await AskAsync(tls, Messages.Admission())));
            }

            using var stranger = await ConnectAsync(bed);
            await Assert.ThrowsAnyAsync<Exception>(async () =>
            {
                await using var tls = await SecureAsync(stranger, unknown, server);
                await AskAsync(tls, Messages.Admission(control: "A-2"));
            });
            using var bare = await ConnectAsync(bed);
            await Assert.ThrowsAnyAsync<Exception>(async () =>
            {
                await using var tls = await SecureAsync(bare, null, server);
                await AskAsync(tls, Messages.Admission(control: "A-4"));
            });
            using var plain = await ConnectAsync(bed);
            await Assert.ThrowsAnyAsync<Exception>(() => AskAsync(plain.GetStream(), Messages.Admission(control: "A-3")));
            Assert.Equal(1, await bed.CountAsync("submissions"));
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    [Fact]
    public async Task Nothing_listens_unless_configured()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        Assert.Empty(bed.App.Services.GetRequiredService<ListenForMllp>().EndPoints);
    }

    [Fact]
    public async Task A_listener_that_would_let_anybody_in_does_not_start()
    {
        var wrong = await Assert.ThrowsAsync<OptionsValidationException>(
            () => IntakeBed.StartAsync(database, new Dictionary<string, string?>
            {
                ["Mllp:Listeners:0:Address"] = "everywhere",
                ["Mllp:Listeners:0:CertificateKey"] = "/nowhere",
                ["Mllp:Listeners:0:Senders:0:Facility"] = "HARBOUR",
                ["Mllp:Listeners:0:Senders:1:Site"] = "hill",
                ["Mllp:Listeners:0:Senders:1:ClientCertificates:0"] = "12:34",
                ["Mllp:Listeners:1:Port"] = "70000",
            }));
        Assert.Equal(
        [
            "Mllp:Listeners:0: Address is not an IP address",
            "Mllp:Listeners:0: Certificate and CertificateKey belong together",
            "Mllp:Listeners:0: Certificate or CertificateKey: there is no such file",
            "Mllp:Listeners:0: Senders:0: Site is required",
            "Mllp:Listeners:0: Senders:0: Addresses or ClientCertificates is required: nobody is let in unknown",
            "Mllp:Listeners:0: Senders:1: ClientCertificates needs a listener with a Certificate",
            "Mllp:Listeners:0: Senders:1: ClientCertificates holds something that is no SHA-256 fingerprint",
            "Mllp:Listeners:1: Port is not between 0 and 65535",
            "Mllp:Listeners:1: Senders is empty: nobody could send",
        ], wrong.Failures);
    }

    internal static Task<IntakeBed> StartAsync(TestDatabase database, params (string Key, string Value)[] settings)
    {
        var all = new Dictionary<string, string?>
        {
            ["Mllp:Listeners:0:Port"] = "0",
            ["Mllp:Listeners:0:Senders:0:Site"] = "harbour",
            ["Mllp:Listeners:0:Senders:0:Addresses:0"] = "127.0.0.1",
        };
        foreach (var (key, value) in settings) all[key] = value;
        return IntakeBed.StartAsync(database, all);
    }

    internal static string Port(IntakeBed bed) =>
        bed.App.Services.GetRequiredService<ListenForMllp>().EndPoints[0].Port.ToString(System.Globalization.CultureInfo.InvariantCulture);

    internal static async Task<TcpClient> ConnectAsync(IntakeBed bed)
    {
        var client = new TcpClient();
        await client.ConnectAsync(IPAddress.Loopback, int.Parse(Port(bed), System.Globalization.CultureInfo.InvariantCulture),
            IntakeBed.Ct);
        return client;
    }

    private static async Task<SslStream> SecureAsync(TcpClient client, X509Certificate2? own, X509Certificate2 server)
    {
        var tls = new SslStream(client.GetStream());
        await tls.AuthenticateAsClientAsync(new SslClientAuthenticationOptions
        {
            TargetHost = "localhost",
            ClientCertificates = own is null ? null : [own],
            LocalCertificateSelectionCallback = own is null ? null : (_, _, _, _, _) => own,
            RemoteCertificateValidationCallback = (_, certificate, _, _) => certificate!.GetCertHashString() == server.GetCertHashString(),
        }, IntakeBed.Ct);
        return tls;
    }

    private static X509Certificate2 Certificate(string name)
    {
        using var key = RSA.Create(2048);
        using var made = new CertificateRequest($"CN={name}", key, HashAlgorithmName.SHA256, RSASignaturePadding.Pkcs1)
            .CreateSelfSigned(DateTimeOffset.UtcNow.AddDays(-1), DateTimeOffset.UtcNow.AddDays(1));
        return X509CertificateLoader.LoadPkcs12(made.Export(X509ContentType.Pkcs12), null, X509KeyStorageFlags.Exportable);
    }

    internal static byte[] Frame(string message, Encoding? encoding = null) =>
        [0x0B, .. (encoding ?? Encoding.UTF8).GetBytes(message), 0x1C, 0x0D];

    internal static async Task<string> AskAsync(Stream stream, string message, Encoding? encoding = null)
    {
        await stream.WriteAsync(Frame(message, encoding), IntakeBed.Ct);
        return await ReceiveAsync(stream, encoding);
    }

    internal static async Task<string> ReceiveAsync(Stream stream, Encoding? encoding = null)
    {
        var frame = new List<byte>();
        var one = new byte[1];
        while (frame is not [.., 0x1C, 0x0D])
        {
            if (await stream.ReadAsync(one, IntakeBed.Ct) == 0)
                throw new EndOfStreamException("The connection was closed without an answer.");
            frame.Add(one[0]);
        }

        Assert.Equal(0x0B, frame[0]);
        return (encoding ?? Encoding.UTF8).GetString(frame.ToArray(), 1, frame.Count - 3);
    }
}
