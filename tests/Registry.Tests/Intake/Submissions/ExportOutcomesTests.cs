using System.Net;
using Registry.Records;
using static Registry.Tests.Intake.HeldRows.WaitingRowsForms;

namespace Registry.Tests.Intake.Submissions;

/// <summary>The outcomes of a submission's rows as CSV.</summary>
public sealed class ExportOutcomesTests(TestDatabase database)
{
    [Fact]
    public async Task The_outcomes_of_the_rows_shown_are_exported_without_their_values()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendAsync(Header + Births(2) + "screening,SECRET-9,,,,right,pass,oae,2026-11-02T09:15\nscreening,A1,,,,middle,perhaps,oae,2026-11-02T09:15\n");
        var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        foreach (var (query, lines) in new[]
        {
            ("", new[] { "1,2,birth,accepted,,,", "2,3,birth,accepted,,,", "3,4,screening,held,,,no_such_infant",
                "4,5,screening,rejected,ear,", "4,5,screening,rejected,outcome," }),
            ("outcome=held", ["3,4,screening,held,,,no_such_infant"]),
            ("outcome=rejected&field=ear&reason=" + Uri.EscapeDataString("unknown code; it is one of: right, left"),
            ["4,5,screening,rejected,ear,", "4,5,screening,rejected,outcome,"]),
            ("kind=birth&outcome=accepted", ["1,2,birth,accepted,,,", "2,3,birth,accepted,,,"]), ("outcome=nonsense", []),
            ("kind=nonsense", []), ("held=nonsense", []),
        })
        {
            var page = await manager.GetStringAsync($"/submissions/{id}?{query}", IntakeBed.Ct);
            Assert.Equal(lines.Length > 0, page.Contains("handler=Outcomes", StringComparison.Ordinal));
            var csv = (await manager.GetStringAsync($"/submissions/{id}?{query}&handler=Outcomes", IntakeBed.Ct)).TrimStart('\uFEFF')
                .TrimEnd().Split("\r\n");
            Assert.Equal("row,line,kind,outcome,field,reason,held_reason", csv[0]);
            Assert.Equal(lines.Length, csv.Length - 1);
            foreach (var (expected, line) in lines.Zip(csv[1..])) Assert.StartsWith(expected, line, StringComparison.Ordinal);
            Assert.DoesNotContain("SECRET", string.Concat(csv), StringComparison.Ordinal);
        }

        var other = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        Assert.Equal(HttpStatusCode.NotFound, (await other.GetAsync($"/submissions/{id}?handler=Outcomes", IntakeBed.Ct)).StatusCode);
    }
}
