using System.Text.RegularExpressions;

namespace Registry.Tests.Architecture;

/// <summary>
/// Which folder of src/Registry may use which. The foundation (Records, Access, Platform, PolicyVersions, Ui) is open to every slice; the
/// edges between slices are listed here, and the list has no cycle. A new edge is a decision: add it with a reason.
/// </summary>
public sealed partial class SliceEdgesTests
{
    private static readonly HashSet<string> Foundation = ["Records", "Access", "Platform", "PolicyVersions", "Ui"];

    private static readonly HashSet<(string From, string To)> Allowed =
    [
        ("Intake", "Matching"),        // intake asks matching which infant a row belongs to
        ("Intake", "Infants"),         // and recomputes the statuses it touched
        ("Matching", "Infants"),
        ("FollowUp", "Infants"),       // the follow-up list reads statuses
        ("Benchmarks", "Infants"),     // the overview counts statuses
        ("Benchmarks", "SiteQuality"), // and names silent sites
        ("SiteQuality", "Infants"),
        ("Outreach", "Infants"),
        ("Reporting", "Infants"),
        ("PolicyChanges", "Infants"),  // a draft is counted over everyone's facts
        ("Fhir", "Intake"),            // Bundles are rows of the intake like any other
        ("Fhir", "Reporting"),         // and a MeasureReport is the measures' report
        ("Demo", "Intake"),            // the demo region goes through the intake like any sender
        ("Demo", "Infants"),
    ];

    [Fact]
    public void Slices_use_each_other_only_along_listed_edges()
    {
        var offenders = Edges().Where(e => !Allowed.Contains((e.From, e.To)))
            .Select(e => $"{e.From} → {e.To} in {SourceTree.Relative(e.File)}").Distinct().Order().ToList();
        Assert.True(offenders.Count == 0, "Edges that are not listed:\n" + string.Join('\n', offenders));
    }

    [Fact]
    public void Listed_edges_have_no_cycle()
    {
        var remaining = Allowed.ToHashSet();
        while (remaining.RemoveWhere(e => !remaining.Any(next => next.From == e.To)) > 0)
        {
        }

        Assert.Empty(remaining);
    }

    [Fact]
    public void Rules_use_nothing_of_the_service()
    {
        var offenders = SourceTree.Files("src/Registry.Rules", "*.cs")
            .Where(f => ForbiddenInRules().IsMatch(File.ReadAllText(f))).Select(SourceTree.Relative);
        Assert.Empty(offenders);
    }

    [Fact]
    public void The_table_of_contents_stays_short() =>
        Assert.InRange(File.ReadAllLines(Path.Combine(SourceTree.Root, "src/Registry/Program.cs")).Length, 1, 60);

    [Fact]
    public void No_folder_is_named_for_a_technical_role()
    {
        string[] banned = ["Services", "Helpers", "Common", "Managers", "Utils", "Utilities"];
        var offenders = SourceTree.Files("src", "*.cs").Select(f => SourceTree.Relative(f))
            .Where(f => f.Split('/').Any(banned.Contains));
        Assert.Empty(offenders);
    }

    private static IEnumerable<(string From, string To, string File)> Edges()
    {
        var slices = Directory.GetDirectories(Path.Combine(SourceTree.Root, "src/Registry")).Select(d => Path.GetFileName(d)!).ToHashSet();
        foreach (var file in SourceTree.Files("src/Registry", "*.cs").Concat(SourceTree.Files("src/Registry", "*.cshtml")))
        {
            var parts = SourceTree.Relative(file).Split('/');
            if (parts.Length < 4 || Foundation.Contains(parts[2])) continue;
            foreach (Match use in UsesOfSlice().Matches(File.ReadAllText(file)))
            {
                var to = use.Groups[1].Value;
                if (slices.Contains(to) && to != parts[2] && !Foundation.Contains(to)) yield return (parts[2], to, file);
            }
        }
    }

    [GeneratedRegex(@"(?:^@?using |[^\w.])Registry\.([A-Z]\w+)", RegexOptions.Multiline)]
    private static partial Regex UsesOfSlice();

    [GeneratedRegex(@"^using (Npgsql|Microsoft\.(AspNetCore|EntityFrameworkCore|Extensions)|System\.Net|System\.IO|Registry\.(Records|Platform|Intake|Access))", RegexOptions.Multiline)]
    private static partial Regex ForbiddenInRules();
}
