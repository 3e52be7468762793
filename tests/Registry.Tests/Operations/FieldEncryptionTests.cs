using System.Security.Cryptography;
using Microsoft.Extensions.Configuration;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Operations.Encryption;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Operations;

/// <summary>A copy of the database tells no way to reach a family, and keys can be changed.</summary>
public sealed class FieldEncryptionTests(TestDatabase database)
{
    private const string Rows =
        "kind,record_number,birth_date,sex,contact_email,contact_phone,step,refused_on,refused_by\n"
        + "birth,1,2026-10-20,female,Wren@family.example,555 0147-22,,,\n"
        + "birth,2,2026-10-20,male,wren@family.example,(555) 014722,,,\n"
        + "refusal,1,,,,,screening,2026-10-21,Grandmother Wren\n";

    [Fact]
    public async Task Who_holds_a_copy_of_the_database_reads_no_telephone_address_or_file()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        foreach (var secret in (string[])["family.example", "0147", "Grandmother"])
        {
            foreach (var table in (string[])["births", "refusals", "submission_chunks"])
                Assert.Equal(0, await bed.CountAsync($"{table} t where t::text ilike '%{secret}%'"));
            Assert.Equal(0, await bed.CountAsync(
                $"submission_chunks where position(convert_to('{secret}', 'utf8') in bytes) > 0"));
        }

        // The same value is written differently each time, and is found by what it is looked up by.
        Assert.Equal(2, await bed.CountAsync("(select distinct contact_email from births) t"));
        var keys = FieldKeys.OfProcess;
        Assert.Equal(2, await bed.CountAsync($"births where contact_email_key = '{keys.KeyOfEmail(" WREN@family.example")}'"));
        Assert.Equal(2, await bed.CountAsync($"births where contact_phone_key = '{keys.KeyOfPhone("555 014 722")}'"));

        // A value moved to another column says nothing.
        var stored = (await bed.ListAsync("select contact_email from births limit 1"))[0];
        Assert.Throws<AuthenticationTagMismatchException>(() => keys.Decrypt(stored, "births.contact_phone"));
        Assert.Equal("wren@family.example", keys.Decrypt(stored, "births.contact_email"), ignoreCase: true);

        // Whoever may see the infant reads it as before.
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var id = (await bed.ListAsync("select infant_id from infant_identifiers where value = '1'"))[0];
        var page = await client.GetStringAsync($"/infants/{id}", IntakeBed.Ct);
        Assert.Contains("Wren@family.example", page, StringComparison.Ordinal);
        Assert.Contains("555 0147-22", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_was_stored_in_the_clear_or_with_an_older_key_is_encrypted_with_the_current_one()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var submission = await bed.SendAsync(Rows);
        var file = bed.App.Services.GetRequiredService<IConfiguration>()[FieldKeyFile.Setting]!;

        // One birth as it was before there were keys; everything else under the key so far.
        await using var owner = NpgsqlDataSource.Create(bed.App.Logins.Owner!);
        await bed.App.AsOwnerAsync("alter table births disable trigger user");
        await bed.App.AsOwnerAsync("update births set contact_email = 'old@family.example', contact_email_key = null "
            + "where contact_phone_key is not null and id = (select min(id::text)::uuid from births)");
        await bed.App.AsOwnerAsync("alter table births enable trigger user");

        var current = FieldKeyFile.Add(file);
        FieldKeys.Use(FieldKeyFile.Read(file));
        var said = new List<string>();
        Assert.Equal(6, await EncryptStored.RunAsync(owner, FieldKeys.OfProcess, said.Add, IntakeBed.Ct));
        Assert.Contains(said, s => s.StartsWith("births.contact_email: 2 rows", StringComparison.Ordinal));
        Assert.Equal(0, await bed.CountAsync($"births where contact_email not like 'enc:{current}:%' or contact_phone not like 'enc:{current}:%'"));
        Assert.Equal(1, await bed.CountAsync($"submission_chunks where key_id = '{current}'"));
        Assert.Equal(1, await bed.CountAsync($"births where contact_email_key = '{FieldKeys.OfProcess.KeyOfEmail("old@family.example")}'"));
        Assert.Equal(0, await EncryptStored.RunAsync(owner, FieldKeys.OfProcess, said.Add, IntakeBed.Ct));

        // Everything reads as before, and the guards are in force again.
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Equal(Rows, await client.GetStringAsync($"/submissions/{submission}?handler=Raw", IntakeBed.Ct));
        await Assert.ThrowsAsync<PostgresException>(() => bed.App.AsOwnerAsync("update births set contact_email = 'x'"));
        await Assert.ThrowsAsync<PostgresException>(() => bed.App.AsOwnerAsync("update submission_chunks set key_id = null"));
    }

    [Fact]
    public void A_key_file_that_is_none_says_so_and_is_never_written_over()
    {
        var folder = Directory.CreateTempSubdirectory("registry-keys-");
        try
        {
            var file = Path.Combine(folder.FullName, "keys");
            Assert.Throws<FieldKeyException>(() => FieldKeyFile.Read(file));
            FieldKeyFile.Create(file);
            Assert.Throws<IOException>(() => FieldKeyFile.Create(file));
            var first = FieldKeyFile.Read(file);
            FieldKeyFile.Add(file);
            var both = FieldKeyFile.Read(file);
            Assert.Equal((1, 2), (first.Count, both.Count));
            Assert.Equal(first.KeyOfPhone("555-1"), both.KeyOfPhone("5551"));
            Assert.Equal("x", both.Decrypt(first.Encrypt("x", "a"), "a"));
            Assert.Throws<CryptographicException>(() => first.Decrypt(both.Encrypt("x", "a"), "a"));
            if (!OperatingSystem.IsWindows()) Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite, File.GetUnixFileMode(file));
            foreach (var wrong in (string[])["", "look-up AAAA", "k1 " + Convert.ToBase64String(new byte[32])])
            {
                File.WriteAllText(file, wrong);
                Assert.Throws<FieldKeyException>(() => FieldKeyFile.Read(file));
            }
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }
}
