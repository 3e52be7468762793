namespace Registry.Rules.Measures;

/// <summary>What figures can be broken down by.</summary>
public enum Breakdown { None, Site, County, BirthMonth, Nicu, Insurance, Language, RaceEthnicity, MaternalEducation, Sex, MaternalAge }

/// <summary>The counts of one group of infants, in the order of the set's lines.</summary>
public sealed record GroupCounts(string Name, int[] Counts);

/// <summary>
/// A measure set counted: the whole first, then the groups of the breakdown in name order. Every line of the whole is the sum
/// of the groups' lines, since an infant is in exactly one group.
/// </summary>
public sealed record MeasureTable(MeasureSet Set, Breakdown Breakdown, GroupCounts Whole, IReadOnlyList<GroupCounts> Groups)
{
    private readonly Dictionary<string, int> _index =
        Set.Lines.Select((line, at) => (line.Code, at)).ToDictionary(p => p.Code, p => p.at);

    /// <summary>Position of a line in <see cref="GroupCounts.Counts"/>.</summary>
    /// <exception cref="KeyNotFoundException">No such line.</exception>
    public int IndexOf(string line) => _index[line];

    public int Count(GroupCounts group, string line) => group.Counts[_index[line]];

    /// <summary>Each sum of the set in each group: holds or not.</summary>
    public IEnumerable<SumCheck> Checks() =>
        from @group in Groups.Prepend(Whole)
        from sum in Set.Sums
        let total = Count(@group, sum.Total)
        let parts = sum.Parts.Sum(p => Count(@group, p))
        select new SumCheck(@group.Name, sum, total, parts);
}

/// <summary>A sum as counted. <see cref="Holds"/> is the proof that the lines add up.</summary>
public sealed record SumCheck(string Group, Sum Sum, int Total, int Parts)
{
    public bool Holds => Total == Parts;
}

/// <summary>Counts a stream of infants one at a time, broken down in several ways at once, in memory that does not grow with
/// their number.</summary>
public sealed class Tabulate
{
    /// <summary>Name of the whole in every table.</summary>
    public const string Whole = "all";

    /// <summary>Name of the group whose attribute was not reported.</summary>
    public const string NotStated = "not stated";

    private readonly MeasureSet _set;
    private readonly Line[] _lines;
    private readonly int[] _whole;
    private readonly (Breakdown Breakdown, SortedDictionary<string, int[]> Groups)[] _broken;

    public Tabulate(MeasureSet set, params IEnumerable<Breakdown> breakdowns)
    {
        (_set, _lines, _whole) = (set, [.. set.Lines], new int[set.Lines.Count]);
        _broken = [.. breakdowns.Where(b => b != Breakdown.None)
            .Select(b => (b, new SortedDictionary<string, int[]>(StringComparer.Ordinal)))];
    }

    public void Add(MeasuredInfant infant)
    {
        var groups = new int[_broken.Length][];
        for (var b = 0; b < _broken.Length; b++)
        {
            var name = GroupOf(infant, _broken[b].Breakdown);
            if (!_broken[b].Groups.TryGetValue(name, out groups[b]!)) _broken[b].Groups.Add(name, groups[b] = new int[_lines.Length]);
        }

        for (var k = 0; k < _lines.Length; k++)
        {
            var count = _lines[k].Count(infant);
            if (count == 0) continue;
            _whole[k] += count;
            foreach (var group in groups) group[k] += count;
        }
    }

    /// <summary>The table of one of the breakdowns, or of none.</summary>
    public MeasureTable Result(Breakdown breakdown = Breakdown.None) => new(_set, breakdown, new(Whole, _whole),
        breakdown == Breakdown.None
            ? [] : [.. _broken.First(b => b.Breakdown == breakdown).Groups.Select(g => new GroupCounts(g.Key, g.Value))]);

    /// <summary>The group of an infant.</summary>
    public static string GroupOf(MeasuredInfant infant, Breakdown breakdown) => breakdown switch
    {
        Breakdown.Site => infant.Attributes.Site,
        Breakdown.County => infant.Attributes.County,
        Breakdown.BirthMonth => infant.Born.ToString("yyyy-MM", System.Globalization.CultureInfo.InvariantCulture),
        Breakdown.Nicu => infant.Facts.Birth.NicuAdmittedOn <= infant.AsOf ? "yes" : "no",
        Breakdown.Insurance => infant.Attributes.Insurance,
        Breakdown.Language => infant.Attributes.Language,
        Breakdown.RaceEthnicity => infant.Attributes.RaceEthnicity,
        Breakdown.MaternalEducation => infant.Attributes.MaternalEducation,
        Breakdown.Sex => infant.Attributes.Sex,
        Breakdown.MaternalAge => infant.Attributes.MaternalAge,
        _ => Whole,
    } ?? NotStated;
}
