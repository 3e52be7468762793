using System.Net;
using System.Text.Json;
using System.Text.RegularExpressions;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Access;
using Registry.Erasure;
using Registry.Platform.Encryption;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Tests.Intake;

namespace Registry.Tests.Erasure;

/// <summary>A person's values are removed by two people: nothing that says who it was is left anywhere in the database, what is counted
/// stays, and the trail verifies. One person alone, or the program's login by itself, removes nothing.</summary>
public sealed class DecideErasureTests(TestDatabase database)
{
    private const string Header = "kind,record_number,card_id,birth_date,birth_time,sex,infant_given_name,infant_family_name,"
        + "mother_given_name,mother_family_name,mother_birth_date,contact_email,contact_phone,email_consent,ear,outcome,method,"
        + "performed_at,screener,step,refused_on,refused_by\n";

    private const string Rows =
        """
        birth,SECRET-1,SECRET-CARD,2026-08-17,04:05,female,Secretgiven,Secretfamily,Secretmother,Secretname,1991-05-06,secret@example.test,5550199,yes,,,,,,,,
        screening,SECRET-1,,,,,,,,,,,,,right,refer,aabr,2026-08-18T09:15,secretscreener,,,
        screening,SECRET-1,,,,,,,,,,,,,left,refer,aabr,2026-08-18T09:20,secretscreener,,,
        refusal,SECRET-1,,,,,,,,,,,,,,,,,,diagnosis,2026-10-01,secretfather
        birth,OTHER-1,,2026-08-17,,male,Kept,Keptfamily,Keptmother,Keptname,1990-01-02,,,,,,,,,,,

        """;

    [Fact]
    public async Task What_says_who_it_was_is_nowhere_left_and_what_is_counted_stays()
    {
        await using var bed = await StartAsync();
        var id = await IdAsync(bed, "SECRET-1");
        var before = await CountedAsync(bed);
        var ages = await AgesAsync(bed);
        Assert.NotEmpty(await FoundAsync(bed));

        Assert.Equal(ErasureAnswer.Asked, await AskAsync(bed, await PersonAsync(bed), id));
        Assert.Equal(ErasureAnswer.Erased, await EraseAsync(bed, await PersonAsync(bed)));

        Assert.Empty(await FoundAsync(bed));
        Assert.Equal(before, await CountedAsync(bed));
        Assert.Equal(ages, await AgesAsync(bed));
        Assert.Equal([$"{await bed.CountAsync("infant_work")}"], await bed.ListAsync(
            "select coalesce(sum(infants), 0) from work_counts where responsible_site_id is null and county_key is null"));
        Assert.Equal(["2026-08-01"], await bed.ListAsync("select born_on::text from births where infant_id = $1", id.Value));
        Assert.Equal(["Kept"], await bed.ListAsync("select infant_given_name from births where infant_given_name is not null"));
        await using var db = bed.App.OpenDb();
        Assert.Null((await new VerifyTrail(db).RunAsync(IntakeBed.Ct)).Problem);
        Assert.Equal(["erasure_asked", "erased"], await bed.ListAsync(
            "select kind from access_records where infant_id = $1 and kind <> 'read' order by id", id.Value));
    }

    /// <summary>A birth date and a mother name two infants: which one a row that says no more was about, nobody knows.</summary>
    [Fact]
    public async Task A_row_that_may_be_a_twin_s_stays()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync("kind,record_number,birth_date,sex,plurality,birth_order,mother_family_name,mother_birth_date\n"
            + "birth,T-1,2026-08-17,female,2,1,Twinmother,1990-01-02\nbirth,T-2,2026-08-17,male,2,2,Twinmother,1990-01-02\n");
        await bed.SendAsync("kind,birth_date,sex,mother_family_name,ear,outcome,method,performed_at\n"
            + "screening,2026-08-17,female,Twinmother,right,pass,aabr,not a day\n");
        Assert.Equal(2, await bed.CountAsync("infants"));
        await AskAsync(bed, await PersonAsync(bed), await IdAsync(bed, "T-1"));
        Assert.Equal(ErasureAnswer.Erased, await EraseAsync(bed, await PersonAsync(bed)));
        Assert.Contains("Twinmother", Assert.Single(await bed.ContentsAsync("submission_rows where content is not null")),
            StringComparison.Ordinal);

        // Of the second nobody else has the birth date and the mother.
        await AskAsync(bed, await PersonAsync(bed), await IdAsync(bed, "T-2"));
        Assert.Equal(ErasureAnswer.Erased, await EraseAsync(bed, await PersonAsync(bed)));
        Assert.Empty(await bed.ContentsAsync("submission_rows where content is not null"));
    }

    [Fact]
    public async Task Every_column_of_a_fact_that_is_no_code_is_removed_also_one_that_was_added_since()
    {
        await using var bed = await StartAsync();
        var id = await IdAsync(bed, "SECRET-1");
        await bed.App.AsOwnerAsync("alter table births add column street text; alter table screenings add column free_text text");
        await bed.App.AsOwnerAsync("alter table births disable trigger user; update births set street = 'SECRET street'; "
            + "alter table births enable trigger user; alter table screenings disable trigger user; "
            + "update screenings set free_text = 'SECRET words'; alter table screenings enable trigger user");
        var person = await PersonAsync(bed);
        // What somebody wrote beside a search for the family is no fact, and goes with it.
        await bed.ListAsync("insert into searches (id, infant_id, searched_on, looked_at, result, note, recorded_at, entered_by, entered_as, "
            + "form_key) values (gen_random_uuid(), $1, '2026-11-20', '{registry}', 'nothing', 'SECRET note', now(), $2, 'coordinator', "
            + "gen_random_uuid()) returning 1", id.Value, person.PersonId!.Value);
        await AskAsync(bed, person, id);
        Assert.Equal(ErasureAnswer.Erased, await EraseAsync(bed, await PersonAsync(bed)));
        Assert.Equal(0, await bed.CountAsync($"births where infant_id = '{id}' and street is not null"));
        Assert.Equal(0, await bed.CountAsync("screenings where free_text is not null"));
        Assert.Equal(1, await bed.CountAsync("searches where note is null and result = 'nothing'"));
    }

    [Fact]
    public async Task One_person_alone_removes_nothing_neither_on_the_page_nor_in_the_database()
    {
        await using var bed = await StartAsync();
        var id = await IdAsync(bed, "SECRET-1");
        var one = await PersonAsync(bed);
        await AskAsync(bed, one, id);
        Assert.Equal(ErasureAnswer.AskedAlready, await AskAsync(bed, await PersonAsync(bed), id));
        var request = await RequestAsync(bed);
        Assert.Equal(ErasureAnswer.NeedsAnother, await EraseAsync(bed, one));
        foreach (var attack in new[]
        {
            $"select erase_infant('{request}', '{one.PersonId}')", $"select erase_infant('{request}', null)",
            $"select erase_infant('{Guid.CreateVersion7()}', '{Guid.CreateVersion7()}')",
            $"update erasure_requests set asked_by = '{Guid.CreateVersion7()}'", "delete from erasure_requests",
            "select set_config('registry.erasing', 'on', false); update births set infant_given_name = null",
            "select set_config('registry.erasing', 'on', false); delete from submission_chunks",
            "select set_config('registry.erasing', 'on', false); delete from access_records",
            "create or replace function is_erasing(guarded oid) returns boolean language sql as 'select true'",
        })
            Assert.Equal(PostgresErrorCodes.InsufficientPrivilege,
                (await Assert.ThrowsAsync<PostgresException>(() => bed.ListAsync(attack))).SqlState);
        Assert.NotEmpty(await FoundAsync(bed));
        Assert.Equal(ErasureAnswer.Refused, await As(bed, await PersonAsync(bed), e => e.RefuseAsync(request, IntakeBed.Ct)));
        Assert.Equal(ErasureAnswer.NoSuchRequest, await As(bed, await PersonAsync(bed), e => e.EraseAsync(request, IntakeBed.Ct)));
    }

    [Fact]
    public async Task The_trail_and_the_changes_of_people_stay_closed_to_erasure()
    {
        await using var bed = await StartAsync();
        await SignedIn.AsAsync(bed, Role.Coordinator, null);
        foreach (var table in new[] { "access_records", "trail_digests", "person_changes", "published_reports" })
            Assert.Equal(PostgresErrorCodes.IntegrityConstraintViolation, (await Assert.ThrowsAsync<PostgresException>(
                () => bed.App.AsOwnerAsync($"set registry.erasing = 'on'; delete from {table}"))).SqlState);
    }

    [Fact]
    public async Task On_the_pages_one_coordinator_asks_and_another_does_it()
    {
        await using var bed = await StartAsync();
        var id = await IdAsync(bed, "SECRET-1");
        var (one, other) = (await SignedIn.AsAsync(bed, Role.Coordinator, null), await SignedIn.AsAsync(bed, Role.Coordinator, null));
        Assert.Contains("Ask for erasure", await one.GetStringAsync($"/infants/{id}/kept", IntakeBed.Ct), StringComparison.Ordinal);
        await PostAsync(one, "Ask", ("infant", id.ToString()), ("reason", "family_asked"));
        Assert.DoesNotContain(">Erase<", await one.GetStringAsync("/erasures", IntakeBed.Ct), StringComparison.Ordinal);
        var request = (await RequestAsync(bed)).ToString();
        await PostAsync(one, "Erase", ("id", request));
        Assert.NotEmpty(await FoundAsync(bed));
        Assert.Contains(">Erase<", await other.GetStringAsync("/erasures", IntakeBed.Ct), StringComparison.Ordinal);
        await PostAsync(other, "Erase", ("id", request));
        Assert.Empty(await FoundAsync(bed));
        Assert.Equal(HttpStatusCode.OK, (await other.GetAsync($"/infants/{id}", IntakeBed.Ct)).StatusCode);
        foreach (var page in new[] { "/infants", "/submissions", "/erasures", $"/infants/{id}/kept", $"/infants/{id}/reads" })
            Assert.Equal(HttpStatusCode.OK, (await other.GetAsync(page, IntakeBed.Ct)).StatusCode);
    }

    [Fact]
    public async Task Whose_time_is_over_by_the_policy_is_named_and_nobody_is_erased_by_it()
    {
        await using var bed = await StartAsync();
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,OLD-1,2001-11-24,female\nbirth,NEW-1,2001-11-26,female\n",
            at: new(2001, 12, 1, 0, 0, 0, TimeSpan.Zero));
        var (oldest, total, before) = await As(bed, await PersonAsync(bed), e => e.OverdueAsync(10, IntakeBed.Ct));
        Assert.Equal(25, Policy.Default.RetentionYears);
        Assert.Equal((1, new DateOnly(2001, 11, 25)), (total, before));
        Assert.Equal(await IdAsync(bed, "OLD-1"), Assert.Single(oldest));
        Assert.Equal(1, await bed.CountAsync("infant_identifiers where value = 'OLD-1'"));
    }

    [Fact]
    public async Task Everything_kept_of_an_infant_is_taken_away_as_json_and_csv_and_recorded()
    {
        await using var bed = await StartAsync();
        var id = await IdAsync(bed, "SECRET-1");
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await coordinator.GetAsync("/infants", IntakeBed.Ct);
        var document = JsonDocument.Parse(await coordinator.GetStringAsync($"/infants/{id}/kept?handler=json", IntakeBed.Ct)).RootElement;
        Assert.Equal(4, document.GetProperty("facts").GetArrayLength());
        Assert.Equal(2, document.GetProperty("identifiers").GetArrayLength());
        Assert.Equal(4, document.GetProperty("rows").GetArrayLength());
        Assert.Equal(1, document.GetProperty("status").GetArrayLength());
        Assert.Equal("GET /infants", document.GetProperty("looked_at")[0].GetProperty("action").GetString());
        var csv = await coordinator.GetStringAsync($"/infants/{id}/kept?handler=csv", IntakeBed.Ct);
        foreach (var value in new[]
        {
            "SECRET-1", "SECRET-CARD", "Secretgiven", "secret@example.test", "1991-05-06", "secretscreener", "secretfather",
        })
        {
            Assert.Contains(value, document.GetRawText(), StringComparison.Ordinal);
            Assert.Contains(value, csv, StringComparison.Ordinal);
        }

        // What is kept encrypted is given as it reads, and not by what it is found.
        Assert.Contains("the secret family", csv, StringComparison.Ordinal);
        foreach (var own in new[] { "enc:", "content_key", "identifier_keys" })
            Assert.DoesNotContain(own, document.GetRawText() + csv, StringComparison.Ordinal);
        Assert.DoesNotContain("OTHER-1", csv, StringComparison.Ordinal);
        Assert.Equal(2, await bed.CountAsync($"access_records where infant_id = '{id}' and handler in ('json', 'csv')"));

        foreach (var (role, site) in new[] { (Role.SiteManager, bed.Harbour), (Role.Screener, bed.Hill) })
        {
            var client = await SignedIn.AsAsync(bed, role, site);
            foreach (var path in new[] { $"/infants/{id}/kept?handler=json", "/erasures" })
                Assert.Equal("/denied", (await client.GetAsync(path, IntakeBed.Ct)).Headers.Location!.AbsolutePath);
        }
    }

    private async Task<IntakeBed> StartAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Header + Rows);
        // A row that was held with its content and decided: it is kept in two more places.
        var by = await bed.AddPersonAsync(Role.Coordinator);
        var held = await bed.SendAsync(Header
            + "screening,SECRET-1,SECRET-CARD,,,,,,,,,,,,right,pass,aabr,2026-08-18T09:15,secretscreener,,,\n");
        await bed.App.Services.GetRequiredService<Registry.Intake.HeldRows.DecideRow>().DiscardAsync(
            held, 1, new(by.Id), IntakeBed.Ct);
        // And one that was rejected with its content, before anybody knew whose it was; one that names it by its birth and mother alone;
        // and one whose record number it is said to have had before.
        await bed.SendAsync(Header + "screening,,SECRET-CARD,,,,,,,,,,,,right,pass,aabr,not a day,secretscreener,,,\n", bed.Hill);
        await bed.SendAsync(
            Header + "screening,,,2026-08-17,,female,,,,Secretname,,,,,right,pass,aabr,not a day,secretscreener,,,\n", bed.Hill);
        await bed.SendAsync("kind,record_number,prior_record_number\nmerge,OTHER-1,SECRET-1\n");
        await bed.ListAsync("insert into claim_decisions (infant_id, site_id, decision, at, person_id, reason) "
            + "select infant_id, $1, 'refused', now(), $2, $3 from infant_identifiers where value = 'SECRET-1'",
            bed.Hill.Value, by.Id, FieldKeys.OfProcess.Encrypt("the secret family", "claim_decisions.reason")!);
        return bed;
    }

    private const string Telling = "secret|1991-05-06|5550199|2026-08-17";

    /// <summary>Every text of every table, the raw files as text too and what is encrypted as it reads, that holds something of the
    /// infant.</summary>
    private static async Task<List<string>> FoundAsync(IntakeBed bed)
    {
        var found = new List<string>();
        foreach (var table in TableRights.All.Select(t => t.Table))
        {
            var text = table == "submission_chunks" ? "encode(t.bytes, 'escape')" : "to_jsonb(t)::text";
            if (await bed.CountAsync($"\"{table}\" t where {text} ~* '{Telling}'"
                + (table == "births" ? " and infant_given_name is distinct from 'Kept'" : "")
                + (table is "infant_status" or "infant_words" ? " and infant_id not in (select infant_id from births where infant_given_name = 'Kept')" : "")
                // The one who stays was born on the same day.
                + (table == "status_counts" ? " and (select sum(infants) from status_counts c where c.counted = t.counted "
                    + "and c.site_id = t.site_id and c.born_on = t.born_on) > 1" : "")) > 0)
                found.Add(table);
        }

        foreach (var (place, kept) in (await bed.ListAsync(
            """
            select 'submission_rows.content ' || content from submission_rows where content is not null
            union all select 'submission_rows.content ' || (before -> 'row' ->> 'content') from row_changes
             where before -> 'row' ->> 'content' is not null
            union all select 'claim_decisions.reason ' || reason from claim_decisions where reason is not null
            """)).Select(k => (k.Split(' ', 2)[0], k.Split(' ', 2)[1])))
            if (Regex.IsMatch(FieldKeys.OfProcess.Decrypt(kept, place)!, Telling, RegexOptions.IgnoreCase)) found.Add(place);
        return found;
    }

    /// <summary>What figures are made of.</summary>
    private static Task<List<string>> CountedAsync(IntakeBed bed) => bed.ListAsync("""
        select concat_ws(' ', date_trunc('month', born_on)::date, screening, screened_state, diagnosed_state, enrolled_state, hearing, loss,
            screening_category, diagnosis_category, intervention_category, flags)
          from infant_status order by 1
        """);

    private static Task<List<string>> AgesAsync(IntakeBed bed) => bed.ListAsync("""
        select concat_ws(' ', s.ear, s.outcome, (s.performed_at::date - b.born_on))
          from screenings s join births b using (infant_id) order by 1
        """);

    private static async Task<InfantId> IdAsync(IntakeBed bed, string number) =>
        new(Guid.Parse((await bed.ListAsync("select infant_id from infant_identifiers where value = $1", number))[0]));

    private static async Task<Guid> RequestAsync(IntakeBed bed) =>
        Guid.Parse((await bed.ListAsync("select id from erasure_requests where decision is null"))[0]);

    private static async Task<Viewer> PersonAsync(IntakeBed bed) =>
        new((await bed.AddPersonAsync(Role.Coordinator)).Id, null, Role.Coordinator, null, "Coordinator");

    private static Task<ErasureAnswer> AskAsync(IntakeBed bed, Viewer viewer, InfantId id) =>
        As(bed, viewer, e => e.AskAsync(id, ErasureReason.FamilyAsked, IntakeBed.Ct));

    private static async Task<ErasureAnswer> EraseAsync(IntakeBed bed, Viewer viewer)
    {
        var request = await RequestAsync(bed);
        return await As(bed, viewer, e => e.EraseAsync(request, IntakeBed.Ct));
    }

    private static async Task<T> As<T>(IntakeBed bed, Viewer viewer, Func<DecideErasure, Task<T>> work)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        var p = scope.ServiceProvider;
        return await work(new(p.GetRequiredService<RegistryDb>(), bed.Source, p.GetRequiredService<PolicyStore>(),
            p.GetRequiredService<Registry.Platform.ProgramClock>(), p.GetRequiredService<AuditActs>(), viewer));
    }

    private static async Task PostAsync(HttpClient client, string handler, params (string Name, string Value)[] fields)
    {
        var token = await SignedIn.TokenAsync(client, "/erasures");
        using var form = new FormUrlEncodedContent(fields.Append(("__RequestVerificationToken", token))
            .Select(f => new KeyValuePair<string, string>(f.Item1, f.Item2)));
        Assert.Equal(HttpStatusCode.Redirect, (await client.PostAsync($"/erasures?handler={handler}", form, IntakeBed.Ct)).StatusCode);
    }
}
