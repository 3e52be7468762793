using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Fhir;

/// <summary>A row an entry of a Bundle says, in the columns every format has, with the element each value came from.</summary>
public sealed class FhirRow(int entry)
{
    /// <summary>Longest text of any column; one said of a Patient is copied to each of its rows.</summary>
    private const int MaxLength = 2_000;

    /// <summary>Longest text kept of a value that was refused.</summary>
    private const int MaxStated = 200;

    private readonly SortedDictionary<Field, string> _values = [];
    private readonly Dictionary<string, string> _paths = [];

    /// <summary>0-based entry whose row this is.</summary>
    public int Entry { get; } = entry;

    /// <summary>0-based among the Bundle's rows; -1 for what only says who somebody is.</summary>
    public int Position { get; init; } = -1;

    public string EntryPath => $"Bundle.entry[{Entry}]";
    public IReadOnlyDictionary<Field, string> Values => _values;
    public List<Problem> Problems { get; } = [];

    /// <summary>Identifiers of which none may be known yet, else the row creates nothing.</summary>
    public OnlyIfUnknown OnlyIfUnknown { get; set; }

    public void Set(Field field, string? value, string path)
    {
        if (string.IsNullOrWhiteSpace(value)) return;
        if (value.Length > MaxLength)
        {
            Refuse(field, path, $"is longer than {MaxLength} characters");
            return;
        }

        _values[field] = value;
        _paths[Codes.Of(field)] = path;
    }

    /// <summary>What is not stated yet.</summary>
    public void SetIfAbsent(Field field, string? value, string path)
    {
        if (!_values.ContainsKey(field)) Set(field, value, path);
    }

    /// <summary>Something is wrong with what a column would state.</summary>
    /// <param name="field">The column.</param>
    /// <param name="path">The element.</param>
    /// <param name="reason">What is wrong with it, in words that repeat no value.</param>
    /// <param name="stated">What was stated, kept with the rejected row as it is for whoever corrects it.</param>
    public void Refuse(Field field, string path, string reason, string? stated = null)
    {
        _paths[Codes.Of(field)] = path;
        Problems.Add(new(field, reason));
        if (string.IsNullOrWhiteSpace(stated)) return;
        var kept = stated.Length <= MaxStated ? stated : stated[..MaxStated];
        _values[field] = string.Concat(kept.Select(c => char.IsControl(c) ? ' ' : c));
    }

    /// <summary>A problem of no column of ours: it names the element itself.</summary>
    public void Refuse(string path, string reason) => Problems.Add(new(path, reason));

    /// <summary>Where the element behind a problem stands.</summary>
    public string PathOf(string? field) =>
        field is null ? $"{EntryPath}.resource"
        : field.StartsWith("Bundle", StringComparison.Ordinal) ? field
        : _paths.GetValueOrDefault(field, $"{EntryPath}.resource");

    /// <summary>The row without its values: then only its own problems speak.</summary>
    public void Forget() => _values.Clear();
}

/// <summary>What became of an entry on its way to rows.</summary>
public sealed class FhirEntry(int index, string? resourceType)
{
    /// <summary>Most problems and remarks told of one entry.</summary>
    public const int MaxIssues = 50;

    private readonly List<FhirIssue> _issues = [];

    public int Index { get; } = index;
    public string? ResourceType { get; } = resourceType;

    /// <summary>It could not be read as a resource.</summary>
    public bool Unreadable { get; init; }

    /// <summary>Its own rows, and rows of other entries it completes; 0-based positions.</summary>
    public SortedSet<int> Rows { get; } = [];
    public IReadOnlyList<FhirIssue> Issues => _issues;

    /// <summary>Adds a remark, unless there are many already.</summary>
    public void Remark(FhirIssue issue)
    {
        if (_issues.Count < MaxIssues) _issues.Add(issue);
    }
}

/// <summary>A Bundle as rows. The same bytes give the same rows in the same order, whoever reads them again.</summary>
public sealed record TranslatedBundle(bool AllOrNothing, IReadOnlyList<FhirEntry> Entries, IReadOnlyList<FhirRow> Rows);
