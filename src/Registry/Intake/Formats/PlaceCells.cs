using Registry.Intake.Rows;
using Registry.Platform.Csv;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats;

/// <summary>The text of one cell of the row being read.</summary>
internal delegate ReadOnlySpan<char> CellOf(int column);

/// <summary>Checks a table's header and puts the cells of its rows where they belong: under our own names, or as a mapping says.</summary>
internal sealed class PlaceCells
{
    private sealed record Target(Field Field, int[] Columns, string? DateForm,
        Dictionary<string, string>.AlternateLookup<ReadOnlySpan<char>>? Meanings);

    private const string Midnight = "T00:00:00";

    /// <summary>Columns that hold a day; a workbook's cell may show it with the time of midnight.</summary>
    private static readonly HashSet<Field> Days =
        [Field.BirthDate, Field.MotherBirthDate, .. Enum.GetValues<Field>()
            .Where(f => Codes.Of(f).EndsWith("_on", StringComparison.Ordinal))];

    private readonly Target[] _targets;
    private readonly (Field Field, string Value)[] _fixed;
    private readonly Dictionary<int, Field> _fieldOf;
    private readonly bool _fromWorkbook, _isOfRejected;

    public PlaceCells(IReadOnlyList<string> header, FileReading read)
    {
        var fixedValues = new List<(Field, string)>();
        if (read.DefaultKind is { } kind) fixedValues.Add((Field.Kind, Codes.Of(kind)));
        if (read.Mapping is { Mapping: var mapping })
        {
            var columns = mapping.Columns.ToDictionary(c => ColumnMapping.KeyOf(c.Header));
            fixedValues.AddRange(mapping.Fixed.Select(f => (Codes.Parse<Field>(f.Key), f.Value)));
            _targets = [.. header.Select((name, i) => (Column: columns[ColumnMapping.KeyOf(name)], Index: i))
                .Where(c => c.Column.Field is not null)
                .GroupBy(c => c.Column.Field!).Select(g => new Target(
                    Codes.Parse<Field>(g.Key), [.. g.Select(c => c.Index)], g.Select(c => c.Column.DateForm).FirstOrDefault(
                        f => f is not null), CodesOf(g.SelectMany(c => c.Column.Codes ?? new Dictionary<string, string>()))))];
        }
        else
        {
            _targets = [.. header.Select((name, i) => new Target(Codes.Parse<Field>(name), [i], null, null))];
        }

        _fixed = [.. fixedValues];
        _fieldOf = _targets.Where(t => t.Field != Field.Problems).SelectMany(t => t.Columns.Select(c => (c, t.Field))).ToDictionary();
        _isOfRejected = read.Mapping is null && _targets.Any(t => t.Field == Field.Problems);
        _fromWorkbook = read.Format == SubmissionFormat.Xlsx;
    }

    /// <summary>Is the header one of ours, or the mapping's?</summary>
    public static IEnumerable<FileProblem> CheckHeader(IReadOnlyList<string> header, RowKind? defaultKind, ColumnMapping? mapping)
    {
        var problems = mapping is null ? CheckOurs(header) : CheckMapped(header, mapping);
        if (problems.Count > 0) return problems;
        var hasKind = mapping is null
            ? header.Any(n => Codes.TryParse<Field>(n, out var f) && f == Field.Kind)
            : mapping.StatesKind;
        if (!hasKind && defaultKind is null) problems.Add(new(0, "kind", "there is no kind column and no kind was chosen for the file"));
        else if (hasKind && defaultKind is not null)
            problems.Add(new(0, "kind", mapping is null ? "a kind was chosen for the file, but the file has a kind column"
                : "a kind was chosen for the file, but its mapping states the kind"));
        return problems;
    }

    /// <summary>Sets the current row of the batch.</summary>
    /// <param name="batch">Its current row is set.</param>
    /// <param name="cell">The text of each cell.</param>
    /// <param name="unread">Cells that could not be read, by column, -1 for the row as a whole; one in a column that is left out does not
    /// matter.</param>
    public void Place(RowBatch batch, CellOf cell, IReadOnlyList<(int Column, string Reason)>? unread = null)
    {
        foreach (var (column, reason) in unread ?? [])
        {
            if (column < 0) batch.AddProblem(new((string?)null, reason));
            else if (_fieldOf.TryGetValue(column, out var field)) batch.AddProblem(new(field, reason));
        }

        foreach (var (field, value) in _fixed) batch.Set(field, value);
        foreach (var target in _targets)
        {
            var text = cell(target.Columns[0]);
            for (var i = 1; i < target.Columns.Length; i++) text = Joined(text, cell(target.Columns[i]));
            if (target.Meanings is { } codes && codes.TryGetValue(text.Trim(), out var code)) text = code;
            if (target.DateForm is { } form && !text.IsWhiteSpace())
            {
                if (ReadDateForm.Read(text, form) is { } date) text = date;
                else if (!IsOurs(text.Trim()))
                {
                    batch.AddProblem(new(target.Field, $"is not of the form {form}"));
                }
            }

            if (_isOfRejected && text.Trim() is ['\'', ..] guarded && Formula.IsFormula(guarded)) text = guarded[1..];
            if (_fromWorkbook && Days.Contains(target.Field) && IsOurs(text) && text.EndsWith(Midnight)) text = text[..^Midnight.Length];
            if (target.Field == Field.Problems) batch.SetOrigin(RowMark.AtEndOf(text));
            else batch.Set(target.Field, text);
        }
    }

    /// <summary>Two cells of one field: a day and a time are a moment, other texts stand beside each other.</summary>
    private static ReadOnlySpan<char> Joined(ReadOnlySpan<char> text, ReadOnlySpan<char> more)
    {
        text = text.Trim();
        more = more.Trim();
        if (more.IsEmpty || text.IsEmpty) return text.IsEmpty ? more : text;
        var day = IsOurs(text) && text.EndsWith(Midnight) ? text[..^Midnight.Length] : text;
        return IsDay(day) && IsTime(more) ? $"{day}T{more}" : $"{text} {more}";
    }

    /// <summary>A workbook's own dates come in our form whatever the mapping says.</summary>
    private static bool IsOurs(ReadOnlySpan<char> text) =>
        IsDay(text) || IsTime(text) || (text.Length > 11 && text[10] == 'T' && IsDay(text[..10]) && IsTime(text[11..]));

    private static bool IsDay(ReadOnlySpan<char> text) => IsLike(text, "0000-00-00");

    private static bool IsTime(ReadOnlySpan<char> text) => IsLike(text, "00:00:00") || IsLike(text, "00:00");

    private static bool IsLike(ReadOnlySpan<char> text, string form)
    {
        if (text.Length != form.Length) return false;
        for (var i = 0; i < form.Length; i++)
            if (form[i] == '0' ? !char.IsAsciiDigit(text[i]) : text[i] != form[i]) return false;
        return true;
    }

    private static List<FileProblem> CheckOurs(IReadOnlyList<string> header)
    {
        var problems = new List<FileProblem>();
        var seen = new HashSet<Field>();
        foreach (var name in header)
        {
            if (name.Length == 0) problems.Add(new(0, null, "a column has no name"));
            else if (!Codes.TryParse<Field>(name, out var field))
                problems.Add(new(0, Shorten(name), name.Contains(';') || name.Contains('\t')
                    ? "unknown column: fields must be separated by commas" : "unknown column"));
            else if (!seen.Add(field)) problems.Add(new(0, Codes.Of(field), "the column appears twice"));
        }

        return problems;
    }

    private static List<FileProblem> CheckMapped(IReadOnlyList<string> header, ColumnMapping mapping)
    {
        var problems = mapping.Problems().ToList();
        if (problems.Count > 0) return problems;
        var columns = mapping.Columns.ToDictionary(c => ColumnMapping.KeyOf(c.Header));
        var seen = new HashSet<string>();
        foreach (var name in header)
        {
            if (!columns.ContainsKey(ColumnMapping.KeyOf(name)))
                problems.Add(new(0, Shorten(name), "the mapping does not know this column"));
            else if (!seen.Add(ColumnMapping.KeyOf(name))) problems.Add(new(0, Shorten(name), "the column appears twice"));
        }

        problems.AddRange(mapping.Columns.Where(c => c.Field is not null && !seen.Contains(ColumnMapping.KeyOf(c.Header)))
            .Select(c => new FileProblem(0, Shorten(c.Header), "the mapping reads this column, but the file does not have it")));
        return problems;
    }

    private static Dictionary<string, string>.AlternateLookup<ReadOnlySpan<char>>? CodesOf(IEnumerable<KeyValuePair<string, string>> codes)
    {
        var all = new Dictionary<string, string>(StringComparer.OrdinalIgnoreCase);
        foreach (var (value, code) in codes) all.TryAdd(value.Trim(), code);
        return all.Count == 0 ? null : all.GetAlternateLookup<ReadOnlySpan<char>>();
    }

    private static string Shorten(string name) => name.Length <= 60 ? name : name[..60] + "…";
}
