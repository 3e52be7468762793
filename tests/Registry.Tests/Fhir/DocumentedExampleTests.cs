using System.Text.RegularExpressions;
using Registry.Tests.Architecture;
using Registry.Tests.Intake;

namespace Registry.Tests.Fhir;

/// <summary>docs/intake/fhir.md is executed: its Bundle is sent and its table of answers compared.</summary>
[Collection(nameof(R4))]
public sealed partial class DocumentedExampleTests(TestDatabase database)
{
    [Fact]
    public async Task The_example_does_what_its_page_says()
    {
        var text = await System.IO.File.ReadAllTextAsync(Path.Combine(SourceTree.Root, "docs/intake/fhir.md"), IntakeBed.Ct);
        var expected = Answer().Matches(text).Select(m => $"{m.Groups[1].Value} {m.Groups[2].Value}".Trim()).ToList();
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var (status, body) = await client.SendAsync(Example().Match(text).Groups[1].Value);
        Assert.Equal(200, status);
        Assert.Equal(expected, FhirBed.Entries(body));
        Assert.Equal(["right refer aabr AB-17 none", "left not_performed unknown  declined"],
            await bed.ListAsync("select concat_ws(' ', ear, outcome, method, coalesce(instrument, ''), reason) from screenings order by "
                + "performed_at"));
        Assert.Equal("Ada Marlow 1995-02-03 04:41:00",
            (await bed.ListAsync("select concat_ws(' ', mother_given_name, mother_family_name, mother_born_on, born_at) from births"))[0]);
    }

    [GeneratedRegex(@"```json\n(.*?)```", RegexOptions.Singleline)]
    private static partial Regex Example();

    [GeneratedRegex(@"^\| \d+ \| (\d{3}) \| ?(.*?) ?\|$", RegexOptions.Multiline)]
    private static partial Regex Answer();
}
