using System.Globalization;
using System.Text.Json.Nodes;
using Microsoft.EntityFrameworkCore;
using Registry.Records;
using Registry.Tests.Intake;
using Registry.Tests.Reporting.Measures;

namespace Registry.Tests.Reporting.Export;

/// <summary>Anyone can recompute a figure from the export: here two measures from its lines alone, with nothing of the program.</summary>
public sealed class ExportFactsTests(TestDatabase database)
{
    private static readonly DateOnly From = new(2025, 1, 1), To = new(2025, 12, 31), AsOf = new(2026, 10, 31);

    [Fact]
    public async Task No_cell_of_the_export_is_run_by_a_spreadsheet()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(
            """
            kind,record_number,birth_date,sex,ear,outcome,method,performed_at,probe,instrument
            birth,A1,2026-09-01,female,,,,,,
            screening,A1,,,right,pass,aabr,2026-09-02T09:15,=1+1,@SUM(A1)

            """);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var csv = await client.GetStringAsync("/api/v1/export/facts?format=csv", IntakeBed.Ct);
        Assert.Contains("'=1+1", csv, StringComparison.Ordinal);
        Assert.Contains("'@SUM(A1)", csv, StringComparison.Ordinal);
        Assert.DoesNotMatch(@"(^|,|"")[=+@]", csv);
    }

    [Fact]
    public async Task Facts_and_statuses_recompute_to_the_same_figures()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var report = await client.MeasuresAsync("from=2025-01-01&to=2025-12-31&asOf=2026-10-31");

        var facts = (await client.GetStringAsync("/api/v1/export/facts?asOf=2026-10-31", IntakeBed.Ct))
            .Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(l => JsonNode.Parse(l)!.AsObject()).ToList();
        var births = facts.Where(f => Is(f, "fact", "birth") && Day(f, "born_on") >= From && Day(f, "born_on") <= To
            && !Is(f, "place", "out_of_region")).ToList();
        Assert.Equal(report.Count("births"), births.Count);
        Assert.True(births.Count > 100);

        // CBE 1354 from the facts: each ear with a pass or refer, or a medical exclusion, by the end of the stay.
        var tests = facts.Where(f => Is(f, "fact", "screening")).ToLookup(f => (string)f["infant_id"]!);
        var deaths = facts.Where(f => Is(f, "fact", "death") && Day(f, "died_on") <= AsOf)
            .ToDictionary(f => (string)f["infant_id"]!, f => Day(f, "died_on"));
        var delayed = facts.Where(f => Is(f, "fact", "medical_delay") && Is(f, "step", "screening")).ToLookup(f => (string)f["infant_id"]!);
        var (numerator, denominator) = (0, 0);
        foreach (var birth in births.Where(b => Is(b, "place", "hospital") || Is(b, "place", "birth_center")))
        {
            var id = (string)birth["infant_id"]!;
            DateOnly? left = birth["discharged_on"] is null || Day(birth, "discharged_on") > AsOf ? null : Day(birth, "discharged_on");
            DateOnly? died = deaths.TryGetValue(id, out var d) ? d : null;
            if ((left ?? died) is not { } end) continue;
            bool Ear(string ear, bool medical) => tests[id].Any(t => Is(t, "ear", ear) && Day(t, "performed_at") <= end
                && (Is(t, "outcome", "pass") || Is(t, "outcome", "refer")
                    || (medical && Is(t, "outcome", "not_performed") && Is(t, "reason", "medical_exclusion"))));
            if (died <= end && !Ear("right", false) && !Ear("left", false)) continue;
            denominator++;
            var excused = delayed[id].Any(m => Day(m, "from_on") <= end && (m["ended_on"] is null || Day(m, "ended_on") >= end));
            if (excused || (Ear("right", true) && Ear("left", true))) numerator++;
        }

        Assert.Equal((report.Ratio("cbe_1354").Numerator, report.Ratio("cbe_1354").Denominator), (numerator, denominator));

        // The survey's screened and lost from the statuses.
        var statuses = (await client.GetStringAsync("/api/v1/export/statuses?asOf=2026-10-31", IntakeBed.Ct))
            .Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(l => JsonNode.Parse(l)!.AsObject())
                .ToDictionary(s => (string)s["infant_id"]!);
        var ours = births.Select(b => statuses[(string)b["infant_id"]!]).ToList();
        Assert.Equal(report.Count("screening.screened"), ours.Count(s => Is(s, "screening_category", "completed")));
        Assert.Equal(report.Count("screening.lost"), ours.Count(s =>
            Is(s, "screening_category", "unresponsive") || Is(s, "screening_category", "unable_to_contact")
                || Is(s, "screening_category", "unknown")));
        Assert.Equal(["GET /api/v1/export/{what}"], await bed.ListAsync(
            "select distinct action from access_records where action like '%export%'"));
    }

    [Fact]
    public async Task Csv_and_ndjson_hold_as_many_rows_and_no_name()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(
            """
            kind,record_number,birth_date,sex,infant_given_name,mother_given_name,mother_family_name,mother_birth_date,ear,outcome,method,performed_at,contact_email
            birth,H-1,2026-09-01,female,Tamsin,Ada,Marlow,1995-02-03,,,,,ada@example.test
            screening,H-1,,,,,,,right,pass,aabr,2026-09-02T09:15,
            screening,H-1,,,,,,,left,refer,aabr,2026-09-02T09:20,

            """);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        foreach (var what in new[] { "facts", "statuses" })
        {
            var lines = (await client.GetStringAsync($"/api/v1/export/{what}?format=ndjson", IntakeBed.Ct))
                .Split('\n', StringSplitOptions.RemoveEmptyEntries);
            var csv = (await client.GetStringAsync($"/api/v1/export/{what}?format=csv", IntakeBed.Ct))
                .Split('\n', StringSplitOptions.RemoveEmptyEntries);
            Assert.Equal(what == "facts" ? 3 : 1, lines.Length);
            Assert.Equal(lines.Length + 1, csv.Length);
            foreach (var name in new[] { "Tamsin", "Ada", "Marlow", "1995-02-03", "ada@", "H-1" })
                Assert.DoesNotContain(lines.Concat(csv), l => l.Contains(name, StringComparison.Ordinal));
        }

        Assert.Equal(System.Net.HttpStatusCode.BadRequest,
            (await client.GetAsync("/api/v1/export/facts?asOf=soon", IntakeBed.Ct)).StatusCode);
        Assert.Equal(System.Net.HttpStatusCode.NotFound, (await client.GetAsync("/api/v1/export/letters", IntakeBed.Ct)).StatusCode);
    }

    [Fact]
    public async Task A_text_a_spreadsheet_would_run_is_guarded_in_csv_and_as_stored_in_ndjson()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync("kind,record_number,birth_date,sex,county,language\nbirth,H-1,2026-09-01,female,=1+1,\"a, b\"\n");
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var csv = await client.GetStringAsync("/api/v1/export/facts?format=csv", IntakeBed.Ct);
        Assert.StartsWith("fact,infant_id,site_id,site,recorded_at,superseded_at,born_on,", csv, StringComparison.Ordinal);
        Assert.Contains(",'=1+1,", csv, StringComparison.Ordinal);
        Assert.Contains($",{bed.Harbour},harbour,", csv, StringComparison.Ordinal);
        Assert.Contains(",\"a, b\",", csv, StringComparison.Ordinal);
        Assert.DoesNotContain('\r', csv);
        var fact = JsonNode.Parse(await client.GetStringAsync("/api/v1/export/facts", IntakeBed.Ct))!;
        Assert.Equal(("=1+1", "harbour"), ((string?)fact["county"], (string?)fact["site"]));
        var status = JsonNode.Parse(await client.GetStringAsync("/api/v1/export/statuses", IntakeBed.Ct))!;
        Assert.Equal(("harbour", "harbour"), ((string?)status["birth_site"], (string?)status["responsible_site"]));
    }

    [Fact]
    public async Task The_columns_of_the_csv_keep_their_order()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var csv = await client.GetStringAsync("/api/v1/export/facts?format=csv", IntakeBed.Ct);
        Assert.Equal(
            "fact,infant_id,site_id,site,recorded_at,superseded_at,"
            + "born_on,born_at,place,sex,plurality,birth_order,gestation_weeks,birth_weight_grams,nicu_admitted_on,nicu_discharged_on,"
            + "discharged_on,county,residence_state,insurance,language,race_ethnicity,maternal_education,"
            + "ear,method,outcome,reason,stage,performed_at,instrument,probe,stimulus,duration_seconds,artefacts_rejected,"
            + "ear_canal_volume_ml,ambient_noise_db,bands,"
            + "evaluated_on,right_finding,left_finding,right_degree,left_degree,provisional,permanent,next_on,"
            + "behavioral_method,air_transducer,right_tympanogram_low,right_tympanogram_high,left_tympanogram_low,left_tympanogram_high,"
            + "right_emissions,left_emissions,emissions_method,abr_scale,abr_correction,right_air,left_air,right_bone,left_bone,sound_field,"
            + "right_abr,left_abr,right_abr_bone,left_abr_bone,"
            + "kind,happened_on,died_on,moved_on,transferred_on,to_site_id,to_site,step,refused_on,revoked_on,noted_on,admitted_on,raises_risk,"
            + "from_on,ended_on,attempted_on,call_again_on,channel,person,"
            + "appointment_on,appointment_time,appointment_site_id,appointment_site,"
            + "stated_on,phone_use,other_phone_use,interpreter_needed,preferred_channel,holds_custody,may_be_told,primary_care_confirmed",
            csv.TrimEnd());
    }

    private static bool Is(JsonObject fact, string field, string value) => (string?)fact[field] == value;

    private static DateOnly Day(JsonObject fact, string field) =>
        DateOnly.ParseExact(((string)fact[field]!)[..10], "yyyy-MM-dd", CultureInfo.InvariantCulture);
}
