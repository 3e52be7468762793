using System.Diagnostics;
using System.Globalization;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Intake.Applying;
using Registry.Intake.Raw;
using Registry.Intake.Receiving;
using Registry.Platform.Encryption;
using Registry.Records;

namespace Registry.Bench;

/// <summary>
/// What the encryption of columns and raw files costs: births with a telephone number and an address, from file to committed status; and
/// the same values and pieces encrypted and hashed by themselves, on one core, as they are within it. "Without" is the one less the other.
/// Last line: <c>ratio: with / without</c>. Lists read no encrypted column; a record reads two values.
/// </summary>
internal static class BenchTrustEncryption
{
    public static async Task<int> RunAsync(int births)
    {
        await using var bench = await BenchServer.StartAsync();
        var file = File(births);
        var with = await IntakeAsync(await bench.CreateAsync("bench_trust"), file, births);
        var alone = Alone(births, file.Length);
        var record = Decrypt();
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"intake: {births:N0} births in {with.TotalSeconds:0.00} s; their encryption by itself {alone.TotalSeconds:0.000} s"));
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"record: two values decrypted in {record.TotalMicroseconds:0.0} µs"));
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"ratio: {with / (with - alone):0.000}"));
        return 0;
    }

    private static async Task<TimeSpan> IntakeAsync(string connectionString, byte[] file, int births)
    {
        await using var services = BenchServer.Services(connectionString);
        var site = await BenchServer.AddSiteAsync(services);

        var clock = Stopwatch.StartNew();
        var receipt = await services.GetRequiredService<ReceiveSubmission>().ReceiveAsync(site, SubmissionFormat.Csv, null,
            new MemoryStream(file), default, new DateTimeOffset(2026, 11, 25, 12, 0, 0, TimeSpan.Zero));
        await services.GetRequiredService<ProcessSubmission>().RunAsync(receipt.Id.Value, CancellationToken.None);
        var elapsed = clock.Elapsed;
        await using var source = NpgsqlDataSource.Create(connectionString);
        await using var count = source.CreateCommand("select count(*) from births where contact_phone like 'enc:%'");
        if ((long)(await count.ExecuteScalarAsync())! != births) throw new InvalidOperationException("Not every birth was recorded.");
        return elapsed;
    }

    /// <summary>What the intake encrypts and hashes: two values and two look-ups a birth; each piece once written and once read.</summary>
    private static TimeSpan Alone(int births, int bytes)
    {
        var keys = FieldKeys.OfProcess;
        var piece = new byte[ReceivedBytes.ChunkBytes];
        var clock = Stopwatch.StartNew();
        for (var n = 0; n < births; n++)
        {
            var (email, phone) = Contact(n);
            keys.Encrypt(email, "births.contact_email");
            keys.Encrypt(phone, "births.contact_phone");
            keys.KeyOfEmail(email);
            keys.KeyOfPhone(phone);
        }

        for (var at = 0; at < bytes; at += piece.Length) keys.Open(keys.CurrentId, keys.Seal(piece, [1]), [1]);
        return clock.Elapsed;
    }

    private static TimeSpan Decrypt()
    {
        const int records = 10_000;
        var keys = FieldKeys.OfProcess;
        var (email, phone) = (keys.Encrypt(Contact(1).Email, "a"), keys.Encrypt(Contact(1).Phone, "b"));
        var clock = Stopwatch.StartNew();
        for (var n = 0; n < records; n++)
        {
            keys.Decrypt(email, "a");
            keys.Decrypt(phone, "b");
        }

        return clock.Elapsed / records;
    }

    private static byte[] File(int births)
    {
        var text = new StringBuilder("kind,record_number,birth_date,sex,mother_family_name,mother_birth_date,contact_email,contact_phone\n");
        for (var n = 0; n < births; n++)
        {
            var (email, phone) = Contact(n);
            text.Append(CultureInfo.InvariantCulture, $"birth,R{n},{new DateOnly(2024, 11, 1).AddDays(n % 730):yyyy-MM-dd},female,")
                .Append(CultureInfo.InvariantCulture, $"Family{n % 9_973},{new DateOnly(1985, 1, 1).AddDays(n * 7 % 7_300):yyyy-MM-dd},")
                .Append(CultureInfo.InvariantCulture, $"{email},{phone}\n");
        }

        return Encoding.UTF8.GetBytes(text.ToString());
    }

    private static (string Email, string Phone) Contact(int n) =>
        (string.Create(CultureInfo.InvariantCulture, $"family{n}@family.example"),
            string.Create(CultureInfo.InvariantCulture, $"555-{n % 10_000:0000}-{n}"));
}
