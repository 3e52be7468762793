using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Registry.Intake.Formats;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Mappings;

/// <summary>What keeps a form from stating a mapping, beside what is wrong with the mapping itself.</summary>
public enum MappingFormProblem { Name, SavedMeanwhile, NoSite, NoSample }

/// <summary>One column as the form states it; codes are lines <c>theirs = ours</c>.</summary>
public sealed class MappingColumnForm
{
    /// <summary>A column may be without a name; the form then states none.</summary>
    public string Header { get => field; set => field = value ?? ""; } = "";
    public string? Field { get; set; }
    public string? DateForm { get; set; }
    public string? Codes { get; set; }
}

public sealed class MappingFixedForm
{
    public string? Field { get; set; }
    public string? Value { get; set; }
}

/// <summary>A mapping while it is edited: it travels with its page, so that nothing is stored before it is saved.</summary>
public sealed class MappingForm
{
    public const int LongestName = 60;
    private const int FixedSlots = 4;
    private const int MostColumns = 500;
    private const int MostFixed = 50;

    public string? Site { get; set; }
    public string? Name { get; set; }

    /// <summary>The version the edit began from; 0 for a new mapping.</summary>
    public int BasedOn { get; set; }

    /// <summary>What the sample's rows are looked at as, where the mapping does not say it and each file will.</summary>
    public string? Kind { get; set; }
    public List<MappingColumnForm> Columns { get; set; } = [];
    public List<MappingFixedForm> Fixed { get; set; } = [];

    /// <summary>The sample's first rows, as JSON.</summary>
    public string? Sample { get; set; }

    /// <summary>What was looked at last; a form that says something else is looked at again before it is saved.</summary>
    public string? Previewed { get; set; }

    /// <summary>What is missing to save it as the next version of a mapping, or as a new one.</summary>
    public IEnumerable<MappingFormProblem> Missing(MappingVersion? current, SiteId? site)
    {
        if (string.IsNullOrWhiteSpace(Name) || Name.Trim().Length > LongestName) yield return MappingFormProblem.Name;
        if (current is not null && BasedOn != current.Version) yield return MappingFormProblem.SavedMeanwhile;
        if (site is null) yield return MappingFormProblem.NoSite;
        if (Columns.Count is 0 or > MostColumns || Fixed.Count > MostFixed) yield return MappingFormProblem.NoSample;
    }

    public SampleRows? SampleRows()
    {
        try
        {
            var sample = string.IsNullOrEmpty(Sample) ? null : JsonSerializer.Deserialize<SampleRows>(Sample, JsonSerializerOptions.Web);
            return sample is { Header: { } header, Rows: { } rows } && header.All(h => h is not null)
                && rows.All(r => r is not null && r.All(c => c is not null))
                && (sample.Unread?.All(u => u is not null && u.All(c => c is not null)) ?? true) ? sample : null;
        }
        catch (JsonException)
        {
            return null;
        }
    }

    /// <summary>The mapping the form states. A column that is left out and that the sample does not have is dropped.</summary>
    /// <param name="problems">Lines of codes that cannot be read.</param>
    public ColumnMapping ToMapping(List<FileProblem> problems) => new()
    {
        Columns =
        [
            .. Columns.Where(c => Given(c.Field) is not null || SampleRows() is not { } sample
                || sample.Header.Any(h => ColumnMapping.KeyOf(h) == ColumnMapping.KeyOf(c.Header)))
                .Select(c => new MappedColumn(c.Header, Given(c.Field), Given(c.DateForm), CodesOf(c, problems))),
        ],
        Fixed = Fixed.Where(f => Given(f.Field) is not null).GroupBy(f => f.Field!)
            .ToDictionary(g => g.Key, g => g.First().Value?.Trim() ?? ""),
    };

    /// <summary>The same mapping has the same print.</summary>
    public string PrintOf(ColumnMapping mapping) => Convert.ToHexStringLower(
        SHA256.HashData(Encoding.UTF8.GetBytes($"{Site}\n{Name}\n{mapping.ToJson()}\n{Sample}")));

    /// <summary>The form of a saved mapping, with room for more fixed values.</summary>
    public static MappingForm Of(string name, int version, ColumnMapping mapping)
    {
        var form = new MappingForm
        {
            Name = name,
            BasedOn = version,
            Columns =
            [
                .. mapping.Columns.Select(c => new MappingColumnForm
                {
                    Header = c.Header,
                    Field = c.Field,
                    DateForm = c.DateForm,
                    Codes = c.Codes is { Count: > 0 } codes ? string.Join('\n', codes.Select(p => $"{p.Key} = {p.Value}")) : null,
                }),
            ],
            Fixed = [.. mapping.Fixed.Select(f => new MappingFixedForm { Field = f.Key, Value = f.Value })],
        };
        form.AddSlots();
        return form;
    }

    /// <summary>The form of a new mapping: columns named as ours are read as ours.</summary>
    public static MappingForm Of(SampleRows sample)
    {
        var form = new MappingForm
        {
            Columns = [.. sample.Header.Select(Of)],
        };
        form.Put(sample);
        form.AddSlots();
        return form;
    }

    /// <summary>Looks at another sample: its columns in its order, those the mapping does not know left out or read by their names; those
    /// it lacks come last.</summary>
    public void Fit(SampleRows sample)
    {
        var known = Columns.DistinctBy(c => ColumnMapping.KeyOf(c.Header)).ToDictionary(c => ColumnMapping.KeyOf(c.Header));
        var taken = Columns.Select(c => c.Field).Concat(Fixed.Select(f => f.Field)).ToHashSet();
        Columns =
        [
            .. sample.Header.Select(h =>
            {
                if (known.Remove(ColumnMapping.KeyOf(h), out var column)) return column;
                column = Of(h);
                if (taken.Contains(column.Field)) column.Field = null;
                return column;
            }),
            .. Columns.Where(c => known.ContainsKey(ColumnMapping.KeyOf(c.Header))),
        ];
        Put(sample);
    }

    public void Put(SampleRows sample) => Sample = JsonSerializer.Serialize(sample, JsonSerializerOptions.Web);

    public void AddSlots()
    {
        while (Fixed.Count < FixedSlots) Fixed.Add(new());
    }

    /// <summary>A column read as ours where it is named as ours.</summary>
    private static MappingColumnForm Of(string header) => new()
    {
        Header = header,
        Field = Codes.TryParse<Field>(ColumnMapping.KeyOf(header).Replace(' ', '_'), out var field) && field != Field.Problems
            ? Codes.Of(field) : null,
    };

    private static string? Given(string? text) => string.IsNullOrWhiteSpace(text) ? null : text.Trim();

    private static Dictionary<string, string>? CodesOf(MappingColumnForm column, List<FileProblem> problems)
    {
        if (Given(column.Codes) is not { } text) return null;
        var codes = new Dictionary<string, string>(StringComparer.OrdinalIgnoreCase);
        foreach (var line in text.Split('\n', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries))
        {
            var at = line.LastIndexOf('=');
            if (at < 1 || at == line.Length - 1) problems.Add(new(0, column.Header, "a line of its codes does not read theirs = ours"));
            else if (!codes.TryAdd(line[..at].Trim(), line[(at + 1)..].Trim()))
                problems.Add(new(0, column.Header, "one of its codes stands twice"));
        }

        return codes;
    }
}
