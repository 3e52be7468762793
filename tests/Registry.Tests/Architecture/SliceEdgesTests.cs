using System.Text.RegularExpressions;

namespace Registry.Tests.Architecture;

/// <summary>
/// Which folder of src may use which. The foundation is open to every slice, in its own order; the edges between slices are listed here,
/// and so is the order of the rooms inside the large ones. A new edge is a decision: add it with a reason.
/// </summary>
public sealed partial class SliceEdgesTests
{
    /// <summary>The foundation, each with what it may stand on.</summary>
    private static readonly HashSet<(string From, string To)> FoundationEdges =
    [
        ("Records", "Rules"),           // entities keep the rules' words
        ("Platform", "Rules"),          // columns hold codes
        ("Facts", "Records"),
        ("Facts", "Platform"),
        ("Facts", "Rules"),
        ("Access", "Facts"),            // a site sees the infants it holds a fact about
        ("Access", "Records"),
        ("Access", "Platform"),
        ("Access", "PolicyVersions"),   // how long a session may lie idle is the program's choice
        ("Access", "Rules"),
        ("PolicyVersions", "Records"),
        ("PolicyVersions", "Platform"),
        ("PolicyVersions", "Rules"),
        ("Ui", "PolicyVersions"),
        ("Ui", "Access"),
        ("Ui", "Records"),
        ("Ui", "Platform"),
        ("Ui", "Rules"),
    ];

    private static readonly HashSet<string> Foundation = [.. FoundationEdges.SelectMany(e => new[] { e.From, e.To })];

    private static readonly HashSet<(string From, string To)> SliceEdges =
    [
        ("Intake", "Matching"),        // intake asks matching which infant a row belongs to
        ("Intake", "Infants"),         // and recomputes the statuses it touched
        ("Matching", "Infants"),
        ("Claims", "Intake"),          // a claim is what waits there, and is looked at again once decided
        ("Claims", "Infants"),         // taking back recomputes the status
        ("FollowUp", "Infants"),       // the follow-up list reads statuses
        ("Benchmarks", "Infants"),     // the overview counts statuses
        ("Benchmarks", "SiteQuality"), // and names silent sites
        ("SiteQuality", "Infants"),
        ("SiteQuality", "Outreach"),   // a weekly letter about flags leaves the way letters do
        ("HandOffs", "Infants"),       // an infant is handed on from its record, and its work is sorted anew
        ("HandOffs", "Intake"),        // what is answered by a link is a row like any other
        ("HandOffs", "Outreach"),      // the link leaves the way letters do
        ("Searching", "Infants"),      // a search is recorded about an infant, and its work is sorted anew
        ("Openings", "Infants"),       // an appointment is made in an opening as it is on a record
        ("Meeting", "Infants"),        // the days that can be asked for
        ("Meeting", "FollowUp"),       // since when who was lost is kept
        ("Meeting", "SiteQuality"),    // flags raised and closed in a week
        ("Meeting", "Intake"),         // and rows that wait
        ("Outreach", "Infants"),
        ("Reporting", "Infants"),
        ("PolicyChanges", "Infants"),  // a draft is counted over everyone's facts
        ("Fhir", "Intake"),            // Bundles are rows of the intake like any other
        ("Fhir", "Reporting"),         // and a MeasureReport is the measures' report
        ("Erasure", "Infants"),        // statuses of whom is erased are computed again
        ("Operations", "Outreach"),    // alarms leave the way letters do
        ("Operations", "Intake"),      // kept rows are written anew with another key, and its certificates are looked at
        ("Accounts", "Outreach"),      // and so do the links that let people in
        ("Glasses", "Outreach"),       // coordinators are told by letter
        ("SetUp", "Outreach"),         // and a test of that way
        ("SetUp", "Accounts"),         // the first administrator is a person like any other
        ("SetUp", "PolicyChanges"),    // deadlines of the policy to start from, in words
        ("Demo", "Intake"),            // the demo region goes through the intake like any sender
        ("Demo", "Infants"),
        ("Demo", "SiteQuality"),       // what its people entered of instruments and probes
        ("Demo", "HandOffs"),          // and whom they handed on
    ];

    /// <summary>The rooms of a slice, each with those it may use; what those use, it may use too.</summary>
    private static readonly Dictionary<string, (string Room, string[] Uses)[]> Rooms = new()
    {
        ["Intake"] =
        [
            ("Mllp", ["Receiving"]),
            ("Typing", ["Receiving"]),
            ("Receiving", ["Submissions"]),
            ("Submissions", ["HeldRows"]),
            ("HeldRows", ["Applying"]),
            ("Applying", ["Mappings"]),
            ("Mappings", ["Formats"]),
            ("Formats", ["Raw", "Rows"]),
            ("Raw", ["Rows"]),
            ("Rows", []),
        ],
        ["Infants"] =
        [
            ("Find", ["Statuses"]), ("Record", ["Statuses"]), ("List", ["Statuses"]), ("Statuses", ["Counting"]), ("Counting", []),
        ],
        ["SiteQuality"] = [("Flags", ["Equipment"]), ("Equipment", []), ("Monthly", [])],
        ["Reporting"] = [("Publication", ["Measures"]), ("Export", ["Measures"]), ("Measures", [])],
    };

    [Fact]
    public void The_foundation_uses_itself_only_along_listed_edges_and_no_slice() =>
        None("Edges of the foundation that are not listed",
            Edges().Where(e => Foundation.Contains(e.From) && !FoundationEdges.Contains((e.From, e.To))));

    [Fact]
    public void Slices_use_each_other_only_along_listed_edges() =>
        None("Edges between slices that are not listed", Edges().Where(e =>
            !Foundation.Contains(e.From) && !Foundation.Contains(e.To) && !SliceEdges.Contains((e.From, e.To))));

    [Theory]
    [InlineData("Intake")]
    [InlineData("Infants")]
    [InlineData("Reporting")]
    [InlineData("SiteQuality")]
    public void Rooms_of_a_slice_use_each_other_in_one_direction(string slice)
    {
        var allowed = Rooms[slice].ToDictionary(r => r.Room, r => Reach(slice, r.Room));
        None($"Edges inside {slice} that are not listed", ReadSource.Uses
            .Select(u => (Use: u, From: Room(u.From, slice), To: Room(u.To, slice)))
            .Where(e => e.From is not null && e.To is not null && e.From != e.To)
            .Where(e => !allowed.GetValueOrDefault(e.From!, []).Contains(e.To!))
            .Select(e => (e.From!, e.To!, e.Use)));
    }

    [Fact]
    public void Every_room_is_listed() =>
        Assert.Equal(Rooms.SelectMany(s => s.Value.Select(r => $"{s.Key}/{r.Room}")).Order(),
            Rooms.Keys.SelectMany(s => Directory.GetDirectories(Path.Combine(SourceTree.Root, "src/Registry", s)))
                .Where(d => Directory.EnumerateFiles(d, "*.*", SearchOption.AllDirectories).Any()) // an old checkout keeps emptied folders
                .Select(d => SourceTree.Relative(d)["src/Registry/".Length..]).Order());

    [Fact]
    public void Listed_edges_have_no_cycle()
    {
        var remaining = SliceEdges.Concat(FoundationEdges).ToHashSet();
        foreach (var (slice, rooms) in Rooms)
            remaining.UnionWith(rooms.SelectMany(r => r.Uses.Select(to => ($"{slice}/{r.Room}", $"{slice}/{to}"))));
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
        Assert.DoesNotContain(Edges(), e => e.From == "Rules");
    }

    [Fact]
    public void The_compiler_understood_the_source() =>
        Assert.Empty(ReadSource.Errors);

    /// <summary>Uses between two folders of the house. What stands beside Program.cs may use everything, and nothing uses it.</summary>
    private static IEnumerable<(string From, string To, Use Use)> Edges() =>
        ReadSource.Uses.Select(u => (From: Folder(u.From), To: Folder(u.To), u))
            .Where(e => e.From is not null && e.To is not null && e.From != e.To).Select(e => (e.From!, e.To!, e.u));

    private static string? Folder(string file) => file.Split('/') switch
    {
        [_, "Registry.Rules", ..] => "Rules",
        [_, _, var folder, _, ..] => folder,
        _ => null,
    };

    /// <summary>The room a file of a slice is in; null for another slice's, and for the slice's own root, which puts the rooms
    /// together.</summary>
    private static string? Room(string file, string slice) =>
        file.Split('/') is [_, _, var folder, var room, _, ..] && folder == slice ? room : null;

    private static HashSet<string> Reach(string slice, string room)
    {
        var reached = new HashSet<string>();
        var open = new Queue<string>([room]);
        while (open.TryDequeue(out var next))
            foreach (var to in Rooms[slice].Single(r => r.Room == next).Uses.Where(reached.Add)) open.Enqueue(to);
        return reached;
    }

    private static void None(string what, IEnumerable<(string From, string To, Use Use)> offenders)
    {
        var lines = offenders.Select(o => $"{o.From} → {o.To}: {o.Use.Name} in {o.Use.From}").Distinct().Order().ToList();
        Assert.True(lines.Count == 0, $"{what}:\n{string.Join('\n', lines)}");
    }

    [GeneratedRegex(@"^using (Npgsql|Microsoft\.(AspNetCore|EntityFrameworkCore|Extensions)|System\.Net|System\.IO)", RegexOptions.Multiline)]
    private static partial Regex ForbiddenInRules();
}
