using System.Globalization;
using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Intake.HeldRows;
using Registry.Intake.HeldRows.Bulk;
using Registry.Intake.Rows;
using Registry.Operations.Encryption;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Tests.Fhir;
using Registry.Tests.Intake;
using Registry.Tests.Intake.Formats.Hl7V2;

namespace Registry.Tests.Operations;

/// <summary>What waits, was rejected or was written by a person is readable to the program alone, whatever release kept it first.</summary>
public sealed class EncryptedRowsTests(TestDatabase database)
{
    /// <summary>Rows that wait or were rejected, what a person did with them, and what people wrote: in no table, no index and no
    /// job.</summary>
    [Fact]
    public async Task What_waits_was_rejected_decided_or_written_by_a_person_is_nowhere_in_the_clear()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await FillWaitingAsync(bed);
        foreach (var table in await EveryTableAsync(bed))
            foreach (var secret in Secrets)
                Assert.True(await bed.CountAsync($"{table} t where to_jsonb(t)::text ilike '%{secret}%'") == 0, $"{secret} in {table}");

        // Whoever may, reads it: the row, its history, the rejected rows to correct, the choice made together.
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var rejected = (await bed.ListAsync("select submission_id from submission_rows where outcome = 'rejected' limit 1"))[0];
        Assert.Contains("quill@family.example",
            await client.GetStringAsync($"/api/v1/submissions/{rejected}/rejected", IntakeBed.Ct), StringComparison.Ordinal);
        var held = (await bed.ListAsync("select submission_id || '/rows/' || row_number from held_rows order by 1 limit 1"))[0];
        Assert.Contains("Quillfeather",
            await client.GetStringAsync($"/submissions/{held}", IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Contains("Quillfeather family.csv", await client.GetStringAsync("/submissions", IntakeBed.Ct), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Rows_kept_before_they_were_encrypted_are_brought_over_found_and_given_back_as_they_were()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await FillWaitingAsync(bed);
        var stated = await bed.StatedAsync(Field.RecordNumber, Field.ContactEmail, Field.Screener);
        var waits = await bed.CountAsync("submission_rows where outcome = 'held'");

        // As an earlier release kept them: JSON, and nothing they are found by.
        await using var owner = NpgsqlDataSource.Create(bed.App.Logins.Owner!);
        await AsBeforeAsync(bed, owner);
        Assert.True(await bed.CountAsync("submission_rows where content ilike '%quill@family.example%'") > 0);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Equal(HttpStatusCode.OK, (await client.GetAsync("/submissions/held", IntakeBed.Ct)).StatusCode);
        Assert.Equal(stated, await bed.StatedAsync(Field.RecordNumber, Field.ContactEmail, Field.Screener));

        var said = new List<string>();
        Assert.True(await EncryptStored.RunAsync(owner, FieldKeys.OfProcess, said.Add, IntakeBed.Ct) > 0);
        Assert.Contains(said, s => s.StartsWith("row_changes.before:", StringComparison.Ordinal));
        foreach (var table in await EveryTableAsync(bed))
            foreach (var secret in Secrets)
                Assert.True(await bed.CountAsync($"{table} t where to_jsonb(t)::text ilike '%{secret}%'") == 0, $"{secret} in {table}");
        Assert.Equal(stated, await bed.StatedAsync(Field.RecordNumber, Field.ContactEmail, Field.Screener));
        Assert.Equal(0, await EncryptStored.RunAsync(owner, FieldKeys.OfProcess, said.Add, IntakeBed.Ct));

        // Sent again to the letter it is known; what was decided is taken back to what it was.
        await bed.SendAsync(Waiting);
        Assert.Equal(waits, await bed.CountAsync("submission_rows where outcome = 'held'"));
        Assert.Equal(1, await bed.CountAsync("submission_rows where outcome = 'still_waiting'"));
        var (submission, row) = ((await bed.ListAsync("select submission_id from row_changes limit 1"))[0],
            int.Parse((await bed.ListAsync("select row_number from row_changes limit 1"))[0], CultureInfo.InvariantCulture));
        var by = new Decider((await bed.AddPersonAsync(Role.Coordinator)).Id);
        Assert.Null(await bed.App.Services.GetRequiredService<TakeBackDecision>().RunAsync(
            new(Guid.Parse(submission)), row, by, null, IntakeBed.Ct));
        Assert.Equal(0, await bed.CountAsync("submission_rows where content is not null and content not like 'enc:%'"));
        await Assert.ThrowsAsync<PostgresException>(() => bed.App.AsOwnerAsync("update row_changes set before = '{}'"));
        await Assert.ThrowsAsync<PostgresException>(() => bed.App.AsOwnerAsync("update claim_decisions set reason = null"));
    }

    private static readonly string[] Secrets = ["quill@family.example", "0147-22", "Quillfeather", "grandmother quill", "nextdoor"];

    private const string Waiting =
        "kind,record_number,birth_date,sex,contact_email,contact_phone,screener,ear,outcome,method,performed_at\n"
        + "screening,W9,,,,,Quillfeather,right,pass,oae,2026-11-02T09:15\n"
        + "birth,W1,not a day,female,quill@family.example,555 0147-22,,,,,\n";

    /// <summary>Held and rejected rows with their history, a choice made together, a claim refused in words, a file with a name.</summary>
    private static async Task FillWaitingAsync(IntakeBed bed)
    {
        var by = await bed.AddPersonAsync(Role.Coordinator);
        var receipt = await bed.Receive.ReceiveAsync(bed.Harbour, SubmissionFormat.Csv, null,
            new MemoryStream(System.Text.Encoding.UTF8.GetBytes(Waiting)), default, bed.Now, "Quillfeather family.csv", null, IntakeBed.Ct);
        Assert.True(await bed.Process.RunAsync(receipt.Id.Value, IntakeBed.Ct));
        var other = await bed.SendAsync(
            Waiting.Replace("W9", "W8", StringComparison.Ordinal).Replace("W1", "W2", StringComparison.Ordinal));
        await bed.App.Services.GetRequiredService<DecideRow>().DiscardAsync(other, 1, new(by.Id), IntakeBed.Ct);
        var bulk = (await bed.App.Services.GetRequiredService<ChooseRows>().RunAsync(new(null), null, by.Id, IntakeBed.Ct))!.Value;
        await bed.App.Services.GetRequiredService<StartBulkDecision>().DecideAsync(new()
        {
            Id = bulk,
            Kind = RowChangeKind.Corrected,
            DecidedBy = by.Id,
            Field = "contact_email",
            FromValue = "quill@family.example",
            ToValue = "grandmother quill",
        }, IntakeBed.Ct);
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,C1,2026-11-01,female\n");
        await bed.ListAsync("insert into claim_decisions (infant_id, site_id, decision, at, person_id, reason) "
            + "select infant_id, $1, 'refused', now(), $2, $3 from infant_identifiers where value = 'C1'",
            bed.Hill.Value, by.Id, FieldKeys.OfProcess.Encrypt("the nextdoor family", "claim_decisions.reason")!);
    }

    private static async Task AsBeforeAsync(IntakeBed bed, NpgsqlDataSource owner)
    {
        await bed.App.AsOwnerAsync("alter table row_changes disable trigger user; alter table claim_decisions disable trigger user");
        foreach (var (key, content) in (await bed.ListAsync("select concat_ws(' ', submission_id, row_number, content) "
            + "from submission_rows where content is not null")).Select(r => (r[..r.LastIndexOf(' ')], r[(r.LastIndexOf(' ') + 1)..])))
        {
            await using var update = owner.CreateCommand(
                "update submission_rows set content = $2, content_key = null, identifier_keys = null "
                + "where concat_ws(' ', submission_id, row_number) = $1");
            update.Parameters.AddWithValue(key);
            update.Parameters.AddWithValue(RowContent.Open(content));
            await update.ExecuteNonQueryAsync(IntakeBed.Ct);
        }

        foreach (var content in await bed.ListAsync("select before -> 'row' ->> 'content' from row_changes"))
        {
            await using var update = owner.CreateCommand("update row_changes set before = jsonb_set(before, '{row}', "
                + "(before -> 'row') - 'content_key' - 'identifier_keys' || jsonb_build_object('content', $2::jsonb)) "
                + "where before -> 'row' ->> 'content' = $1");
            update.Parameters.AddWithValue(content);
            update.Parameters.AddWithValue(RowContent.Open(content));
            await update.ExecuteNonQueryAsync(IntakeBed.Ct);
        }

        await bed.App.AsOwnerAsync("update claim_decisions set reason = 'the nextdoor family'; "
            + "update bulk_decisions set from_value = 'quill@family.example', to_value = 'grandmother quill'; "
            + "update submissions set file_name = 'Quillfeather family.csv' where file_name is not null; "
            + "alter table row_changes enable trigger user; alter table claim_decisions enable trigger user");
    }

    /// <summary>Where a family lives is kept encrypted, whatever it came with; in a row that waits or was rejected, with the whole
    /// row.</summary>
    [Fact]
    public async Task An_address_that_arrives_in_a_file_is_nowhere_in_the_clear()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        const string street = "12 Thistledown Way";
        // Without our identifiers a message waits or is rejected, and with them it is applied.
        foreach (var number in (string[])["4711", ""])
            await bed.SendAsync(Messages.Admission(number, address: $"{street}^^Harbour^^^^^^Lind"), format: SubmissionFormat.Hl7V2);
        var patient = FhirBed.Patient("1");
        patient.Address.Add(new() { Line = [street], City = "Harbour", District = "Lind" });
        await bed.SendAsync(FhirBed.Json(FhirBed.Bundle(Hl7.Fhir.Model.Bundle.BundleType.Transaction, (null, patient))),
            format: SubmissionFormat.Fhir);
        await bed.SendAsync($"kind,record_number,relation,street\nfamily_contact,4711,mother,{street}\n");
        // A column of another kind is refused with its row.
        await bed.SendAsync($"kind,record_number,birth_date,sex,street\nbirth,S1,2026-11-01,female,{street}\n");
        await bed.SendAsync(
            $$"""{"rows":[{"kind":"birth","record_number":"J1","birth_date":"2026-11-01","sex":"female","street":"{{street}}"}]}""",
            format: SubmissionFormat.Json);
        Assert.Equal(3, await bed.CountAsync("family_contacts where street is not null"));
        Assert.True(await bed.CountAsync("submission_rows where content is not null") >= 2);
        foreach (var kept in await EveryTableAsync(bed))
            Assert.True(await bed.CountAsync($"{kept} t where to_jsonb(t)::text ilike '%thistledown%'") == 0, kept);
        Assert.Equal(0, await bed.CountAsync("submission_chunks where position(convert_to('Thistledown', 'utf8') in bytes) > 0"));
    }

    private static Task<List<string>> EveryTableAsync(IntakeBed bed) => bed.ListAsync(
        "select quote_ident(table_schema) || '.' || quote_ident(table_name) from information_schema.tables "
        + "where table_type = 'BASE TABLE' and table_schema in ('public', 'hangfire')");
}
