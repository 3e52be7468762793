using System.Text.RegularExpressions;
using Microsoft.Extensions.DependencyInjection;
using Registry.Intake;
using Registry.Intake.V2;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Tests.Architecture;

namespace Registry.Tests.Intake;

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
        var expected = OutcomeRow().Matches(text).Select(m => $"{m.Groups[1].Value} {m.Groups[2].Value}".Trim()).ToList();
        await using var bed = await IntakeBed.StartAsync(database);
        Assert.Equal(expected, await bed.OutcomesAsync(await bed.SendAsync(example, format: format)));
    }

    [Fact]
    public async Task The_example_of_messages_is_acknowledged_as_its_page_says()
    {
        var text = await System.IO.File.ReadAllTextAsync(Path.Combine(SourceTree.Root, "docs/intake/hl7-v2.md"), IntakeBed.Ct);
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendAsync(Example().Match(text).Groups[1].Value, format: SubmissionFormat.Hl7V2);
        var acknowledgement = new System.Buffers.ArrayBufferWriter<byte>();
        Assert.True(await bed.App.Services.GetRequiredService<AcknowledgeSubmission>().WriteAsync(id, acknowledgement, IntakeBed.Ct));
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
            Assert.All(CheckRow.FieldsOf(kind).Where(f => f != Field.BirthDate), f => Assert.Contains($"`{Codes.Of(f)}`", row, StringComparison.Ordinal));
        }

        string[][] codes =
        [
            [.. Codes.All<ScreeningOutcome>()], [.. Codes.All<ScreeningMethod>()], [.. Codes.All<ScreeningReason>().Where(c => c != "none")], [.. Codes.All<ScreeningStage>()],
            [.. Codes.All<EarFinding>()], [.. Codes.All<LossDegree>()], [.. Codes.All<InterventionKind>()], [.. Codes.All<MoveKind>()], [.. Codes.All<PathStep>()],
            [.. Codes.All<RiskIndicatorKind>()], [.. Codes.All<ContactOutcome>()], [.. Codes.All<Sex>()], [.. Codes.All<RowAction>()], [.. Codes.All<BirthPlace>()], [.. Codes.All<Ear>()],
        ];
        Assert.All(codes.SelectMany(c => c), code => Assert.Contains($"`{code}`", text, StringComparison.Ordinal));
    }

    [GeneratedRegex(@"```(?:csv|json|hl7)\n(.*?)```", RegexOptions.Singleline)]
    private static partial Regex Example();

    [GeneratedRegex(@"```ack\n(.*?)```", RegexOptions.Singleline)]
    private static partial Regex Acknowledgement();

    [GeneratedRegex(@"\|[0-9a-f]{20}")]
    private static partial Regex OwnId();

    [GeneratedRegex(@"^\| \d+ \| (\w+) \| ?(.*?) ?\|$", RegexOptions.Multiline)]
    private static partial Regex OutcomeRow();
}
