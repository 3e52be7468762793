using System.Text.RegularExpressions;
using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.Applying;
using Registry.Intake.HeldRows;
using Registry.Records;
using Registry.Reporting.Measures;
using Registry.Rules;
using Registry.Rules.Measures;

namespace Registry.Tests.Intake.Applying;

/// <summary>
/// Two orders of the same rows give the same infants, facts, statuses and measures, and so does the whole sent again: a property over
/// invented rows, in every format. No second implementation is asked: two orders are compared with each other.
/// </summary>
/// <remarks>Ties: of two births that may be one child the one received first stands, and the other waits for a person, who knows the
/// children here. Rows of which only details say who they are about come in any order among all others.</remarks>
public sealed partial class OrderOfRowsTests(TestDatabase database)
{
    private const int Orders = 5;

    private static readonly SubmissionFormat[] Formats =
        [SubmissionFormat.Csv, SubmissionFormat.Json, SubmissionFormat.Ndjson, SubmissionFormat.Xlsx,
            SubmissionFormat.Hl7V2, SubmissionFormat.Fhir];

    /// <summary>Every order is a world of its own in one database: its numbers, names and mothers' birth dates are its own.</summary>
    [Theory]
    [InlineData(1), InlineData(2), InlineData(3), InlineData(4)]
    public async Task Two_orders_of_the_same_rows_give_the_same(int part)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var sites = new Dictionary<string, SiteId>
        {
            ["harbour"] = bed.Harbour,
            ["hill"] = bed.Hill,
            ["bay"] = await bed.AddSiteAsync("bay", SiteKind.Hospital),
        };
        var person = await bed.AddPersonAsync(Role.Coordinator);
        var (differing, compared) = (new List<string>(), 0);
        foreach (var seed in Enumerable.Range(part * 10, 10))
        {
            var results = new List<string>();
            for (var order = 0; order < Orders; order++)
            {
                var world = ((seed - (part * 10)) * Orders) + order;
                var rows = InventRows.Of(seed, world);
                var random = new Random(world);
                await SendAsync(bed, sites, rows, random);
                await DecideBirthsAsync(bed, world, person.Id);
                results.Add(await ResultAsync(bed, world));
                if (order != Orders - 1) continue;
                await SendAsync(bed, sites, rows, new(world + 1_000));
                results.Add(await ResultAsync(bed, world));
            }

            Assert.NotEmpty(results[0]);
            compared += results.Count;
            differing.AddRange(results.Where(r => r != results[0]).Select(r => $"seed {seed}:\n{results[0]}\n---\n{r}\n"));
            if (results.Exists(r => r != results[0])) differing.AddRange(InventRows.Of(seed, 0).Select(r => r.ToString()));
        }

        var measures = await MeasuresAsync(bed);
        foreach (var worlds in Enumerable.Range(0, 10 * Orders).Chunk(Orders))
            Assert.Single(worlds.Select(w => measures[InventRows.TagOf(w)]).Distinct());

        var reopened = await bed.CountAsync($"submission_rows where problems::text like '%{ReopenLeaningRows.Reason[..30]}%'");
        TestContext.Current.SendDiagnosticMessage(
            $"{compared} results compared, of 10 sets of rows in {Orders} orders and sent again; {differing.Count} differ; "
                + $"{await bed.CountAsync("held_rows where leans_on is not null")} rows lean on details, "
                + $"{reopened} wait since another infant came");
        Assert.True(differing.Count == 0, $"{differing.Count} differ\n{string.Join('\n', differing)}");
    }

    /// <summary>The rows in some order, in submissions of one site and one format each.</summary>
    private static async Task SendAsync(
        IntakeBed bed, Dictionary<string, SiteId> sites, IEnumerable<InventedRow> rows, Random random)
    {
        var left = rows.ToArray();
        random.Shuffle(left);
        var waiting = left.ToList();
        while (waiting.Count > 0)
        {
            var (site, format) = (waiting[0].Site, Formats[random.Next(Formats.Length)]);
            if (!waiting[0].Fits(format)) format = SubmissionFormat.Csv;
            // Within one file what is said after a retraction is said anew: only there the order means something.
            var file = waiting.Where(r => r.Site == site && r.Fits(format)).Take(random.Next(1, 8))
                .OrderBy(r => r.Fields.ContainsKey("action")).ToList();
            waiting.RemoveAll(file.Contains);
            await bed.SendFileAsync(await InventRows.WriteAsync(format, file), format, sites[site]);
        }
    }

    /// <summary>A coordinator who knows the children decides every birth that waits: this infant, or a new one.</summary>
    private static async Task DecideBirthsAsync(IntakeBed bed, int world, Guid person)
    {
        var decide = bed.App.Services.GetRequiredService<DecideRow>();
        while (true)
        {
            var held = await bed.ListAsync(
                """
                select concat_ws('|', h.submission_id, h.row_number, coalesce(h.record_number, h.card_id), (
                         select i.infant_id from infant_identifiers i where i.superseded_at is null
                            and regexp_replace(i.value, '[C-]', '') = regexp_replace(coalesce(h.record_number, h.card_id), '[C-]', '')))
                  from held_rows h
                 where h.resolution is null and h.kind = 'birth' and coalesce(h.record_number, h.card_id) like $1 || '%'
                 order by h.submission_id, h.row_number limit 1
                """, InventRows.TagOf(world));
            if (held is not [var one]) return;
            var parts = one.Split('|');
            var infant = parts.Length > 3 ? new InfantId(Guid.Parse(parts[3])) : (InfantId?)null;
            var id = new SubmissionId(Guid.Parse(parts[0]));
            var row = int.Parse(parts[1], System.Globalization.CultureInfo.InvariantCulture);
            var decided = infant is { } known
                ? await decide.MatchAsync(id, row, known, new(person), IntakeBed.Ct)
                : await decide.MakeNewAsync(id, row, true, new(person), IntakeBed.Ct);
            Assert.True(decided.Refusal is null, $"{one}: {decided.Refusal}");
        }
    }

    /// <summary>What is known of each infant of a world, a line each, without what is the world's own.</summary>
    private static async Task<string> ResultAsync(IntakeBed bed, int world)
    {
        var lines = await bed.ListAsync(
            """
            select concat_ws(' ',
                (select string_agg(i.kind || ':' || i.value, ' ' order by i.value) from infant_identifiers i
                  where i.infant_id = s.infant_id and i.superseded_at is null),
                (select string_agg(concat_ws('/', b.born_on, b.sex, b.plurality, b.birth_order, b.mother_given_name, b.mother_family_name,
                    b.birth_weight_grams), ' ') from births b where b.infant_id = s.infant_id and b.superseded_at is null),
                (select string_agg(concat_ws('/', t.ear, t.outcome, t.performed_at, site.code), ' ' order by t.performed_at, t.ear)
                   from screenings t join sites site on site.id = t.site_id where t.infant_id = s.infant_id and t.superseded_at is null),
                (select string_agg(d.evaluated_on::text, ' ' order by 1) from diagnoses d
                  where d.infant_id = s.infant_id and d.superseded_at is null),
                (select string_agg(m.moved_on::text, ' ' order by 1) from moves m where m.infant_id = s.infant_id and m.superseded_at is null),
                (select string_agg(r.refused_on::text, ' ' order by 1) from refusals r
                  where r.infant_id = s.infant_id and r.superseded_at is null),
                (to_jsonb(s) - 'infant_id' - 'as_of' - 'policy_version')::text)
              from infant_status s
             where exists (select from infant_identifiers i where i.infant_id = s.infant_id and i.superseded_at is null and i.value like $1 || '%')
            """, InventRows.TagOf(world));
        return string.Join('\n', lines.Select(l => Tag().Replace(l, "")).Order(StringComparer.Ordinal));
    }

    /// <returns>Every line of the measures, for the infants of each world by its tag.</returns>
    private static async Task<Dictionary<string, string>> MeasuresAsync(IntakeBed bed)
    {
        var worlds = (await bed.ListAsync("select distinct infant_id || '|' || substring(value from 'W[0-9]{3}') from infant_identifiers "
            + "where superseded_at is null")).Select(l => l.Split('|')).ToDictionary(l => Guid.Parse(l[0]), l => l[1]);
        var request = new MeasureRequest(
            bed.App.Today.AddYears(-10), bed.App.Today, bed.App.Today, bed.Now.AddYears(1), Breakdown.None, null);
        var tables = new Dictionary<string, Tabulate>();
        await foreach (var infant in bed.App.Services.GetRequiredService<ReadMeasuredInfants>()
            .ForAsync(request, Policy.Default, IntakeBed.Ct))
        {
            if (!worlds.TryGetValue(infant.Id, out var world)) continue;
            if (!tables.TryGetValue(world, out var table)) tables.Add(world, table = new(MeasureSet.Under(Policy.Default), Breakdown.None));
            table.Add(infant);
        }

        return tables.ToDictionary(t => t.Key, t => string.Join(' ', t.Value.Result().Whole.Counts));
    }

    [GeneratedRegex("W[0-9]{3}")]
    private static partial Regex Tag();
}
