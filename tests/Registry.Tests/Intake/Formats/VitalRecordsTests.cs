using System.Net;
using System.Text;
using System.Text.RegularExpressions;
using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.Formats;
using Registry.Intake.HeldRows;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Reporting.Measures;

namespace Registry.Tests.Intake.Formats;

/// <summary>The births a vital-records office registered are the denominator: none is missing, none is there twice.</summary>
public sealed class VitalRecordsTests(TestDatabase database)
{
    private const string Header = "kind,record_number,birth_site,birth_date,sex,plurality,birth_order,birth_weight_g,mother_given_name,mother_family_name,mother_birth_date,died_on\n";
    private const string Ada = "birth,2026-1,harbour,2026-11-20,female,1,,3240,Ada,Marlow,1995-02-03,\n";

    [Fact]
    public async Task A_birth_no_site_reported_waits_at_its_birth_site_to_be_screened()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var office = await bed.AddSiteAsync("records", SiteKind.VitalRecords);
        await bed.SendAsync(Header + Ada + "birth,2026-2,,2026-11-21,male,1,,,Bea,Quist,1990-08-30,\n", office);
        Assert.Equal(["harbour screen", "records screen"], await bed.ListAsync(
            "select concat_ws(' ', s.code, t.next_step) from infant_status t join sites s on s.id = t.birth_site_id order by 1"));
        // The hospital's own report finds it, and it has no second record.
        var id = await bed.SendAsync("kind,record_number,birth_date,sex,plurality,mother_given_name,mother_family_name,mother_birth_date,ear,outcome,method,performed_at\n"
            + "birth,A1,2026-11-20,female,1,Ada,Marlow,1995-02-03,,,,\nscreening,A1,,,,,,,right,pass,oae,2026-11-21T08:00\n");
        Assert.Equal(["accepted", "accepted"], await bed.OutcomesAsync(id));
        Assert.Equal(2, await bed.CountAsync("infants"));
        Assert.Equal(["3240"],
            await bed.ListAsync("select birth_weight_grams from births where superseded_at is null and birth_weight_grams is not null"));
        // The whole file once more the next night.
        Assert.Equal(["unchanged", "unchanged"], await bed.OutcomesAsync(
            await bed.SendAsync(Header + Ada + "birth,2026-2,,2026-11-21,male,1,,,Bea,Quist,1990-08-30,\n", office)));
    }

    [Fact]
    public async Task A_birth_a_site_reported_is_completed_and_a_contradiction_is_held()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var office = await bed.AddSiteAsync("records", SiteKind.VitalRecords);
        await bed.SendAsync("kind,record_number,birth_date,sex,plurality,birth_order,mother_given_name,mother_family_name,mother_birth_date,birth_weight_g\n"
            + "birth,A1,2026-11-20,female,1,,Ada,Marlow,1995-02-03,\nbirth,T1,2026-11-21,male,2,1,Bea,Quist,1990-08-30,2500\nbirth,T2,2026-11-21,male,2,2,Bea,Quist,1990-08-30,2400\n");
        var id = await bed.SendAsync(Header + Ada
            + "birth,2026-2,harbour,2026-11-21,male,2,1,2500,Bea,Quist,1990-08-30,\n"
            + "birth,2026-3,harbour,2026-11-21,male,2,2,2900,Bea,Quist,1990-08-30,\n"   // another weight
            + "birth,2026-1,hill,2026-11-20,female,1,,,Ada,Marlow,1995-02-03,\n"        // another site of birth
            + "death,2026-2,,,,,,,,,,2026-11-22\n", office);
        Assert.Equal(["accepted", "accepted", "held contradicts_record", "held contradicts_record", "accepted"],
            await bed.OutcomesAsync(id));
        Assert.Equal(["A1 2026-1 3240", "T1 2026-2 2500", "T2 2400"], await bed.ListAsync(
            """
            select concat_ws(' ', (select string_agg(value, ' ' order by value desc) from infant_identifiers i where i.infant_id = b.infant_id), b.birth_weight_grams)
              from births b where superseded_at is null order by 1
            """));
        Assert.Equal(["harbour"], await bed.ListAsync("select distinct s.code from births b join sites s on s.id = b.site_id"));
    }

    [Fact]
    public async Task What_the_birth_site_says_otherwise_stands_however_often_the_certificate_comes_again()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var office = await bed.AddSiteAsync("records", SiteKind.VitalRecords);
        const string own = "kind,action,record_number,birth_date,sex,plurality,mother_given_name,mother_family_name,mother_birth_date,birth_weight_g\n";
        await bed.SendAsync(Header + Ada, office);
        Assert.Equal(["accepted"],
            await bed.OutcomesAsync(await bed.SendAsync(own + "birth,report,A1,2026-11-20,female,1,Ada,Marlow,1995-02-03,3250\n")));
        for (var night = 0; night < 3; night++)
            Assert.Equal(["unchanged"], await bed.OutcomesAsync(await bed.SendAsync(Header + Ada, office)));
        Assert.Equal(["3250"], await bed.ListAsync("select birth_weight_grams from births where superseded_at is null"));
        Assert.Equal(0, await bed.CountAsync("held_rows where resolution is null"));
    }

    [Fact]
    public async Task A_contradiction_that_comes_again_every_night_waits_once_and_is_decided_once()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var office = await bed.AddSiteAsync("records", SiteKind.VitalRecords);
        await bed.SendAsync("kind,record_number,birth_date,sex,plurality,mother_given_name,mother_family_name,mother_birth_date,birth_weight_g\n"
            + "birth,A1,2026-11-20,female,1,Ada,Marlow,1995-02-03,3250\n");
        const string nightly = Header + Ada + "birth,2026-9,harbor,2026-11-20,female,1,,,Bea,Quist,1990-08-30,\n";
        var first = await bed.SendAsync(nightly, office);
        Assert.Equal(["held contradicts_record", "rejected birth_site: is not the code of a site of this region"],
            await bed.OutcomesAsync(first));

        // The next night nobody decided yet: what is wrong with the file is said again, and waits once.
        string[] again = ["still_waiting", "rejected birth_site: is not the code of a site of this region"];
        Assert.Equal(again, await bed.OutcomesAsync(await bed.SendAsync(nightly, office)));
        const string waiting = "submission_rows where outcome in ('held', 'rejected') and discarded_at is null";
        Assert.Equal(2, await bed.CountAsync(waiting));

        // A person discards it, and it stays decided.
        var manager = await bed.AddPersonAsync(Role.Coordinator);
        Assert.Null(await bed.App.Services.GetRequiredService<DecideRow>().DiscardAsync(first, 1, new(manager.Id), IntakeBed.Ct));
        Assert.Equal(["unchanged", again[1]], await bed.OutcomesAsync(await bed.SendAsync(nightly, office)));
        Assert.Equal(1, await bed.CountAsync(waiting));

        // Another word is another row.
        Assert.Equal(["held contradicts_record", again[1]], await bed.OutcomesAsync(
            await bed.SendAsync(nightly.Replace("3240", "3241", StringComparison.Ordinal), office)));
        Assert.Equal(2, await bed.CountAsync(waiting));
    }

    [Fact]
    public async Task The_office_corrects_and_retracts_its_own_certificate_and_nobody_elses_words()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var office = await bed.AddSiteAsync("records", SiteKind.VitalRecords);
        const string with = "kind,action,record_number,birth_site,birth_date,sex,plurality,mother_given_name,mother_family_name,mother_birth_date,birth_weight_g\n";
        const string own = "kind,action,record_number,birth_date,sex,plurality,mother_given_name,mother_family_name,mother_birth_date,birth_weight_g\n";
        await bed.SendAsync(Header + Ada, office);
        Assert.Equal(["accepted"], await bed.OutcomesAsync(
            await bed.SendAsync(with + "birth,correct,2026-1,harbour,2026-11-20,female,1,Ada,Marlow,1995-02-03,3420\n", office)));
        Assert.Equal(["harbour 3420"],
            await bed.ListAsync("select concat_ws(' ', s.code, b.birth_weight_grams) from births b join sites s on s.id = b.site_id where "
            + "superseded_at is null"));
        // The certificate is not the hospital's to take back, nor the hospital's report the office's.
        Assert.Equal(["held contradicts_record"], await bed.OutcomesAsync(
            await bed.SendAsync(own + "birth,retract,,2026-11-20,female,1,Ada,Marlow,1995-02-03,\n")));
        Assert.Equal(["accepted"],
            await bed.OutcomesAsync(await bed.SendAsync(own + "birth,report,A1,2026-11-20,female,1,Ada,Marlow,1995-02-03,3425\n")));
        Assert.Equal(["held nothing_recorded"], await bed.OutcomesAsync(
            await bed.SendAsync(with + "birth,retract,2026-1,,2026-11-20,female,1,Ada,Marlow,1995-02-03,\n", office)));
        Assert.Equal(["3425"], await bed.ListAsync("select birth_weight_grams from births where superseded_at is null"));
    }

    [Fact]
    public async Task Nobody_else_says_where_an_infant_was_born()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        Assert.Equal(["rejected birth_site: is stated by a vital-records office only: a site reports its own births"],
            await bed.OutcomesAsync(await bed.SendAsync(Header + Ada.Replace("harbour", "hill", StringComparison.Ordinal))));
    }

    [Fact]
    public async Task The_reports_count_the_births_of_the_feed_as_known_on_a_day()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var office = await bed.AddSiteAsync("records", SiteKind.VitalRecords);
        await bed.SendAsync(Header + Ada, office, at: bed.Now.AddDays(-2));
        await bed.SendAsync(Header
            + "birth,2026-2,,2026-11-21,male,1,,,Bea,Quist,1990-08-30,\nbirth,2026-3,,2025-11-21,male,1,,,Cleo,Ness,1990-08-30,\n", office);
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,A9,2026-11-20,female\n");
        var count = bed.App.Services.GetRequiredService<CountVitalBirths>();
        var (from, to) = (new DateOnly(2026, 1, 1), new DateOnly(2026, 12, 31));
        Assert.Equal(2, await count.RunAsync(from, to, bed.Now.AddDays(1), IntakeBed.Ct));
        Assert.Equal(1, await count.RunAsync(from, to, bed.Now.AddDays(-1), IntakeBed.Ct));
        Assert.Null(await count.RunAsync(new(2024, 1, 1), new(2024, 12, 31), bed.Now, IntakeBed.Ct));

        // On the page of reports the number opens as many infants.
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = WebUtility.HtmlDecode(await client.GetStringAsync("/reports?from=2026-01-01&to=2026-11-25", IntakeBed.Ct));
        var link = Regex.Match(page, "reported <a href=\"(/infants[^\"]*)\">2 births</a>").Groups[1].Value;
        var csv = await client.GetStringAsync($"{link}&handler=Csv", IntakeBed.Ct);
        Assert.Equal(3, csv.Split('\n', StringSplitOptions.RemoveEmptyEntries).Length);
    }

    [Theory]
    [InlineData("", "the file is empty: a line H is needed")]
    [InlineData("\nB2026-1\nT000000001\n", "line 1 does not start with HVITAL01")]
    [InlineData("B2026-1\nT000000001\n", "line 1 does not start with HVITAL01")]
    [InlineData("HVITAL01\nB2026-1\n", "the file breaks off: its last line T is not there")]
    [InlineData("HVITAL01\nB2026-1\nT000000002\n", "line 3 says 2 lines B and D, the file has 1")]
    [InlineData("HVITAL01\nB2026-1\nTone\n", "line 3 does not say how many lines B and D there are")]
    [InlineData("HVITAL01\nB2026-1\nT000000001\nB2026-2\n", "line 4 follows the line T")]
    [InlineData("HVITAL01\nX2026-1\nT000000000\n", "line 2 starts with none of B, D and T")]
    [InlineData("HVITAL01\nT000000000\n", "the file has no line B or D")]
    public void A_fixed_width_file_that_is_not_whole_is_refused(string text, string reason)
    {
        var bytes = Encoding.UTF8.GetBytes(text);
        for (var piece = 1; piece <= 8; piece++)
        {
            var inspect = new InspectFixedWidth();
            for (var at = 0; at < bytes.Length; at += piece) inspect.Feed(bytes.AsSpan(at, Math.Min(piece, bytes.Length - at)));
            inspect.End();
            Assert.Equal(reason, inspect.Problems[0].Reason);
        }
    }

    [Fact]
    public async Task Places_are_characters_not_bytes_and_letters_are_codes()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var office = await bed.AddSiteAsync("records", SiteKind.VitalRecords);
        var line = new StringBuilder(new string(' ', 308)) { [0] = 'B' };
        void Put(Field field, string value)
        {
            var at = ReadFixedWidthRows.Layout.First(p => p.Field == field).From - 1;
            line.Remove(at, value.Length).Insert(at, value);
        }

        Put(Field.RecordNumber, "2026-1");
        Put(Field.BirthDate, "2026-11-20");
        Put(Field.Sex, "F");
        Put(Field.BirthPlace, "M");
        Put(Field.InfantFamilyName, "Núñez Ångström");
        Put(Field.MotherFamilyName, "Núñez");
        Put(Field.MotherGivenName, "Zoë");
        foreach (var (bytes, end) in new[] { (Encoding.UTF8.GetBytes($"HVITAL01\r\n{line}\r\nT000000001\r\n"), "utf8"),
            (Encoding.Latin1.GetBytes($"HVITAL01\n{line}\nT000000001"), "windows1252") })
        {
            var id = await bed.SendFileAsync(bytes, SubmissionFormat.FixedWidth, office);
            Assert.Equal([end], await bed.ListAsync("select encoding from submissions where id = $1", id.Value));
        }

        Assert.Equal(["Núñez Ångström Zoë Núñez female home"], await bed.ListAsync(
            "select concat_ws(' ', infant_family_name, mother_given_name, mother_family_name, sex, place) from births"));
        Assert.Equal(1, await bed.CountAsync("infants"));
    }
}
