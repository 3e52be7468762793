using System.Net;
using Registry.Records;
using Registry.Reporting.Export;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>An epidemiologist gets counts and a de-identified extract, and by no way an infant.</summary>
public sealed class EpidemiologistTests(TestDatabase database)
{
    private const string Rows =
        """
        kind,record_number,card_id,birth_date,sex,mother_family_name,mother_birth_date,gestation_weeks,ear,outcome,method,performed_at
        birth,HARBOUR-1,CARD-77,2026-09-13,female,Marlow,1995-02-03,31,,,,
        screening,HARBOUR-1,,,,,,,right,pass,aabr,2026-09-15T09:15
        screening,HARBOUR-1,,,,,,,left,refer,aabr,2026-09-15T09:20

        """;

    /// <summary>Every route, as it is asked for in the matrix, and as a file: none says anything of the infant.</summary>
    [Fact]
    public async Task No_route_shows_anything_of_an_infant()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var infant = (await bed.ListAsync("select id from infants"))[0];
        string[] said = [infant, "HARBOUR-1", "CARD-77", "Marlow", "1995-02-03", "3 Feb 1995", "2026-09-13",
            "13 Sep 2026", "2026-09-15", "15 Sep 2026"];
        using var client = await SignedIn.AsAsync(bed, Role.Epidemiologist, null);
        var read = 0;
        foreach (var route in await Routes.OfAsync(bed, await Routes.SamplesAsync(bed)))
        {
            foreach (var query in new[] { "", "?handler=csv", "?site=harbour&from=2026-01-01&to=2026-12-31&due=any" })
            {
                using var request = new HttpRequestMessage(new(route.Verb), route.Path + query);
                if (route.Verb == "POST") request.Content = new StringContent("");
                using var answer = await client.SendAsync(request, IntakeBed.Ct);
                if (answer.StatusCode == HttpStatusCode.OK) read++;
                var text = await answer.Content.ReadAsStringAsync(IntakeBed.Ct);
                foreach (var value in said)
                    Assert.False(text.Contains(value, StringComparison.Ordinal), $"{route.Verb} {route.Path}{query} says {value}");
            }
        }

        Assert.True(read > 10);
        Assert.Equal(0, await bed.CountAsync("access_records where kind = 'read' and infant_id is not null"));
        foreach (var (path, opens) in new[]
        {
            ("/infants", false), ("/follow-up", false), ("/", false), ("/sites", false), ("/sites/harbour", false),
            ("/reports/infants", false), ($"/infants/{infant}", false), ("/glasses", false), ("/access/trail", false),
            ("/submissions", false), ("/reports", true),
            ("/reports/methods", true), ("/reports/chance-of-loss", true), ("/reports/case-mix", true),
            ("/meeting", false), ("/policy", true), ("/extract", true),
        })
        {
            using var answer = await client.GetAsync(path, IntakeBed.Ct);
            Assert.Equal(opens ? HttpStatusCode.OK : HttpStatusCode.Redirect, answer.StatusCode);
        }
    }

    [Fact]
    public async Task The_extract_holds_a_row_an_infant_and_only_the_columns_it_names()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        await bed.SendAsync(Rows);
        using var client = await SignedIn.AsAsync(bed, Role.Epidemiologist, null);
        var lines = (await client.GetStringAsync("/extract?handler=csv", IntakeBed.Ct)).TrimStart('\uFEFF').TrimEnd().Split("\r\n");
        Assert.Equal(string.Join(',', ExtractWords.Fields.Select(f => f.Column)), lines[0]);
        Assert.Equal(await bed.CountAsync("infants i join infant_status s on s.infant_id = i.id"), lines.Length - 1);
        Assert.Contains("2026-09,female,under_32,referred_one_ear,pass,refer,met,2,not_evaluated,none,not_stated,not_stated,pending,,"
            + "not_required,,none,,1", lines);
        // Values nobody else could be told by: no uuid, no day, no name, no number.
        var text = string.Join('\n', lines);
        Assert.DoesNotMatch("[0-9]{4}-[0-9]{2}-[0-9]{2}", text);
        Assert.DoesNotMatch("[0-9a-f]{8}-", text);
        foreach (var column in new[] { "mother_family_name", "mother_given_name", "infant_given_name" })
            foreach (var name in await bed.ListAsync($"select distinct {column} from births where length({column}) > 3"))
                Assert.DoesNotContain(name, text, StringComparison.Ordinal);
        foreach (var place in await bed.ListAsync("select name from sites union select code from sites union select county from sites"))
            Assert.DoesNotContain(place, text, StringComparison.Ordinal);
        // The order tells nothing: rows stand in the order of what they say.
        Assert.Equal(["1"], await bed.ListAsync("select count(*) from access_records where kind = 'extract_taken' and note = $1",
            $"{lines.Length - 1} rows"));
    }

    [Fact]
    public async Task Nobody_else_takes_the_extract()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        foreach (var role in Enum.GetValues<Role>())
        {
            using var client = await SignedIn.AsAsync(bed, role, Registry.Access.Permissions.NeedsSite(role) ? bed.Harbour : null);
            using var answer = await client.GetAsync("/extract?handler=csv", IntakeBed.Ct);
            Assert.Equal(role is Role.Epidemiologist or Role.Coordinator ? HttpStatusCode.OK : HttpStatusCode.Redirect, answer.StatusCode);
        }
    }

    [Fact]
    public async Task The_columns_are_written_down_with_what_they_mean()
    {
        var page = await File.ReadAllTextAsync(Path.Combine(Architecture.SourceTree.Root, "docs/measures/extract.md"), IntakeBed.Ct);
        foreach (var (column, means) in ExtractWords.Fields) Assert.Contains($"| `{column}` | {means} |", page, StringComparison.Ordinal);
    }
}
