using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats;

/// <summary>How the columns of a site's own files are read as ours.</summary>
public sealed record ColumnMapping
{
    public required IReadOnlyList<MappedColumn> Columns { get; init; }

    /// <summary>What every row states, by our column: a kind, a method, an instrument.</summary>
    public IReadOnlyDictionary<string, string> Fixed { get; init; } = new Dictionary<string, string>();

    /// <summary>It says itself what the rows report.</summary>
    public bool StatesKind => Fixed.ContainsKey("kind") || Columns.Any(c => c.Field == "kind");

    public string ToJson() => JsonSerializer.Serialize(this, JsonSerializerOptions.Web);
    public static ColumnMapping FromJson(string json) => JsonSerializer.Deserialize<ColumnMapping>(json, JsonSerializerOptions.Web)!;

    /// <summary>SHA-256 of a header's names in their order, without case and space: what a file is recognised by.</summary>
    public static byte[] Sha256Of(IReadOnlyList<string> header) =>
        SHA256.HashData(Encoding.UTF8.GetBytes(string.Join('\n', header.Select(KeyOf))));

    /// <summary>A column's name as it is compared.</summary>
    public static string KeyOf(string name) => string.Join(' ', name.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries))
        .ToLowerInvariant();

    /// <summary>What is wrong with the mapping itself, whatever file it meets.</summary>
    public IEnumerable<FileProblem> Problems()
    {
        foreach (var twice in Columns.GroupBy(c => KeyOf(c.Header)).Where(g => g.Count() > 1))
            yield return new(0, twice.First().Header, "the column appears twice: name each column of the file differently");
        foreach (var column in Columns)
        {
            if (column.Field is { } name && !Codes.TryParse<Field>(name, out _))
                yield return new(0, column.Header, "is read as a column that does not exist");
            if (column.Field is null && (column.DateForm is not null || column.Codes is { Count: > 0 }))
                yield return new(0, column.Header, "is left out, but has a date form or codes");
            if (column.DateForm is { } form && !ReadDateForm.IsForm(form))
                yield return new(0, column.Header,
                    "the date form is made of yyyy, MM, M, dd, d, HH, H, mm, ss and punctuation, as in MM/dd/yyyy HH:mm");
        }

        foreach (var (name, value) in Fixed)
        {
            if (!Codes.TryParse<Field>(name, out _)) yield return new(0, name, "a fixed value is given for a column that does not exist");
            else if (value.Length is 0 or > 200) yield return new(0, name, "a fixed value has 1 to 200 characters");
            else if (Columns.Any(c => c.Field == name)) yield return new(0, name, "has a fixed value and a column");
        }
    }
}

/// <summary>One column of a file.</summary>
/// <param name="Header">Its name in the file.</param>
/// <param name="Field">Our column it states; null: it is left out. Two columns of one field are joined by a space, in the file's
/// order.</param>
/// <param name="DateForm">How its dates are written, as in <c>MM/dd/yyyy</c>.</param>
/// <param name="Codes">What its values mean in our codes; others stand as they are.</param>
public sealed record MappedColumn(string Header, string? Field, string? DateForm = null, IReadOnlyDictionary<string, string>? Codes = null);

/// <summary>A mapping as it was saved.</summary>
public sealed record SavedMapping(Guid VersionId, string Name, int Version, ColumnMapping Mapping);
