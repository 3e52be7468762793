using System.Text.RegularExpressions;
using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.Formats;
using Registry.Intake.Receiving;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Tests.Architecture;

namespace Registry.Tests.Intake.Formats;

/// <summary>docs/intake is executed: each page's example is sent and its table of outcomes compared.</summary>
public sealed partial class DocumentedExamplesTests(TestDatabase database)
{
    [Theory]
    [InlineData("csv", SubmissionFormat.Csv)]
    [InlineData("json", SubmissionFormat.Json)]
    [InlineData("hl7-v2", SubmissionFormat.Hl7V2)]
    public async Task The_example_of_each_format_does_what_its_page_says(string page, SubmissionFormat format)
    {
        var text = await System.IO.File.ReadAllTextAsync(Path.Combine(SourceTree.Root, $"docs/intake/{page}.md"), IntakeBed.Ct);
        var example = Example().Match(text).Groups[1].Value;
        if (text.IndexOf("```ndjson", StringComparison.Ordinal) is > 0 and var end) text = text[..end];
        var expected = OutcomeRow().Matches(text).Select(m => $"{m.Groups[1].Value} {m.Groups[2].Value}".Trim()).ToList();
        await using var bed = await IntakeBed.StartAsync(database);
        Assert.Equal(expected, await bed.OutcomesAsync(await bed.SendAsync(example, format: format)));
    }

    [Fact]
    public async Task The_example_of_objects_one_after_another_does_what_its_page_says()
    {
        var text = await System.IO.File.ReadAllTextAsync(Path.Combine(SourceTree.Root, "docs/intake/json.md"), IntakeBed.Ct);
        text = text[text.IndexOf("```ndjson", StringComparison.Ordinal)..];
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendAsync(Objects().Match(text).Groups[1].Value, format: SubmissionFormat.Ndjson);
        Assert.Equal(OutcomeRow().Matches(text).Select(m => $"{m.Groups[1].Value} {m.Groups[2].Value}".Trim()),
            await bed.OutcomesAsync(id));
        Assert.Equal(OutcomeRow().Matches(text).Select(m => m.Value.Split('|')[1].Trim()),
            await bed.ListAsync("select line from submission_rows where submission_id = $1 order by row_number", id.Value));
    }

    [Fact]
    public async Task The_example_of_a_workbook_does_what_its_page_says()
    {
        var text = await System.IO.File.ReadAllTextAsync(Path.Combine(SourceTree.Root, "docs/intake/xlsx.md"), IntakeBed.Ct);
        var table = text[text.IndexOf("| kind |", StringComparison.Ordinal)..text.IndexOf("| row |", StringComparison.Ordinal)].Trim()
            .Split('\n');
        var header = Cells(table[0]);
        using var book = new MemoryStream();
        await MiniExcelLibs.MiniExcel.SaveAsAsync(
            book, table.Skip(2).Select(line => header.Zip(Cells(line)).ToDictionary(c => c.First, c => (object?)(
            c.Second.Length == 0 ? null : c.First is "birth_date" or "performed_at"
                ? DateTime.Parse(c.Second, System.Globalization.CultureInfo.InvariantCulture)
            : c.First == "record_number" ? int.Parse(c.Second, System.Globalization.CultureInfo.InvariantCulture)
                : c.Second))), cancellationToken: IntakeBed.Ct);
        await using var bed = await IntakeBed.StartAsync(database);
        var expected = OutcomeRow().Matches(text).Select(m => $"{m.Groups[1].Value} {m.Groups[2].Value}".Trim()).ToList();
        Assert.Equal(expected, await bed.OutcomesAsync(await bed.SendFileAsync(book.ToArray(), SubmissionFormat.Xlsx)));

        static List<string> Cells(string line) => [.. line.Trim().Trim('|').Split('|').Select(c => c.Trim())];
    }

    [Fact]
    public async Task The_example_of_a_mapping_does_what_its_page_says()
    {
        var text = await System.IO.File.ReadAllTextAsync(Path.Combine(SourceTree.Root, "docs/intake/mappings.md"), IntakeBed.Ct);
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.AddMappingAsync("ward list", MappingBlock().Match(text).Groups[1].Value);
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,71,2026-11-20,female\nbirth,72,2026-11-20,male\n");
        var expected = OutcomeRow().Matches(text).Select(m => $"{m.Groups[1].Value} {m.Groups[2].Value}".Trim()).ToList();
        Assert.Equal(expected, await bed.OutcomesAsync(await bed.SendAsync(Example().Match(text).Groups[1].Value)));
        Assert.Equal(["left refer 2026-11-21 09:20:00 UNIT-3", "right no_valid_result 2026-11-21 13:05:00 UNIT-3",
            "right pass 2026-11-21 09:15:00 UNIT-3"],
            await bed.ListAsync("select concat_ws(' ', ear, outcome, performed_at, instrument) from screenings order by 1"));
    }

    [Fact]
    public async Task The_example_of_vital_records_does_what_its_page_says()
    {
        var text = await System.IO.File.ReadAllTextAsync(Path.Combine(SourceTree.Root, "docs/intake/vital-records.md"), IntakeBed.Ct);
        await using var bed = await IntakeBed.StartAsync(database);
        var office = await bed.AddSiteAsync("records", SiteKind.VitalRecords);
        await bed.SendAsync(Example().Match(text).Groups[1].Value, at: bed.Now.AddDays(-1));
        var expected = OutcomeRow().Matches(text).Select(m => $"{m.Groups[1].Value} {m.Groups[2].Value}".Trim()).ToList();
        Assert.Equal(expected,
            await bed.OutcomesAsync(await bed.SendAsync(FixedWidth().Match(text).Groups[1].Value, office, SubmissionFormat.FixedWidth)));
        // And the table of places is the reader's.
        Assert.Equal(
            ReadFixedWidthRows.Layout.Select(p => $"| {p.From} | {p.To} | `{Codes.Of(p.Field)}` |"),
            text.Split('\n').Where(l => PlaceRow().IsMatch(l)).Select(l => string.Join('|', l.Split('|')[..4]) + "|"));
    }

    [Fact]
    public async Task The_example_of_messages_is_acknowledged_as_its_page_says()
    {
        var text = await System.IO.File.ReadAllTextAsync(Path.Combine(SourceTree.Root, "docs/intake/hl7-v2.md"), IntakeBed.Ct);
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendAsync(Example().Match(text).Groups[1].Value, format: SubmissionFormat.Hl7V2);
        var acknowledgement = new System.Buffers.ArrayBufferWriter<byte>();
        Assert.NotNull(await bed.App.Services.GetRequiredService<AcknowledgeSubmission>().WriteAsync(id, acknowledgement, IntakeBed.Ct));
        Assert.Equal(Acknowledgement().Match(text).Groups[1].Value,
            OwnId().Replace(System.Text.Encoding.UTF8.GetString(acknowledgement.WrittenSpan).Replace('\r', '\n'), "|0"));
    }

    [Fact]
    public async Task The_tables_of_columns_and_codes_are_complete()
    {
        var text = await System.IO.File.ReadAllTextAsync(Path.Combine(SourceTree.Root, "docs/intake/csv.md"), IntakeBed.Ct);
        foreach (var kind in Enum.GetValues<RowKind>())
        {
            var row = text.Split('\n').First(l => l.StartsWith($"| `{Codes.Of(kind)}` |", StringComparison.Ordinal));
            Assert.All(CheckRow.FieldsOf(kind).Where(f => f != Field.BirthDate), f =>
                Assert.Contains($"`{Codes.Of(f)}`", row, StringComparison.Ordinal));
        }

        string[][] codes =
        [
            [.. Codes.All<ScreeningOutcome>()], [.. Codes.All<ScreeningMethod>()],
            [.. Codes.All<ScreeningReason>().Where(c => c != "none")], [.. Codes.All<ScreeningStage>()],
            [.. Codes.All<EarFinding>()], [.. Codes.All<LossDegree>()], [.. Codes.All<InterventionKind>()], [.. Codes.All<MoveKind>()],
            [.. Codes.All<PathStep>()],
            [.. Codes.All<RiskIndicatorKind>()], [.. Codes.All<ContactOutcome>()], [.. Codes.All<Sex>()], [.. Codes.All<RowAction>()],
            [.. Codes.All<BirthPlace>()], [.. Codes.All<Ear>()],
        ];
        Assert.All(codes.SelectMany(c => c), code => Assert.Contains($"`{code}`", text, StringComparison.Ordinal));
    }

    [GeneratedRegex(@"```mapping\n(.*?)```", RegexOptions.Singleline)]
    private static partial Regex MappingBlock();

    [GeneratedRegex(@"```fwf\n(.*?)```", RegexOptions.Singleline)]
    private static partial Regex FixedWidth();

    [GeneratedRegex(@"^\| \d+ \| \d+ \| `")]
    private static partial Regex PlaceRow();

    [GeneratedRegex(@"```(?:csv|json|hl7)\n(.*?)```", RegexOptions.Singleline)]
    private static partial Regex Example();

    [GeneratedRegex(@"```ndjson\n(.*?)```", RegexOptions.Singleline)]
    private static partial Regex Objects();

    [GeneratedRegex(@"```ack\n(.*?)```", RegexOptions.Singleline)]
    private static partial Regex Acknowledgement();

    [GeneratedRegex(@"\|[0-9a-f]{20}")]
    private static partial Regex OwnId();

    [GeneratedRegex(@"^\| \d+ \| (accepted|unchanged|rejected|held) \| ?(.*?) ?\|$", RegexOptions.Multiline)]
    private static partial Regex OutcomeRow();
}
