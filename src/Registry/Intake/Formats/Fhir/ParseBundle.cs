using System.Text.Json;
using System.Text.RegularExpressions;
using Hl7.Fhir.Model;
using Hl7.Fhir.Serialization;
using Hl7.Fhir.Utility;

namespace Registry.Intake.Formats.Fhir;

/// <summary>Something to say about a Bundle: where (a FHIRPath expression) and what, in words that repeat no value.</summary>
/// <param name="Entry">0-based; null: the Bundle as a whole.</param>
public sealed record FhirIssue(
    int? Entry, OperationOutcome.IssueSeverity Severity, OperationOutcome.IssueType Type, string Expression, string Text)
{
    public bool IsError => Severity is OperationOutcome.IssueSeverity.Error or OperationOutcome.IssueSeverity.Fatal;

    public static FhirIssue Warning(int entry, string expression, string text) =>
        new(entry, OperationOutcome.IssueSeverity.Warning, OperationOutcome.IssueType.CodeInvalid, expression, text);

    public static FhirIssue Information(int entry, string expression, string text) =>
        new(entry, OperationOutcome.IssueSeverity.Information, OperationOutcome.IssueType.Informational, expression, text);
}

/// <summary>A batch or transaction as it was read, with what the parser found. Without a Bundle nothing of it can be used.</summary>
public sealed record ParsedBundle(Bundle? Bundle, IReadOnlyList<FhirIssue> Issues)
{
    public bool AllOrNothing => Bundle?.Type == Bundle.BundleType.Transaction;

    /// <summary>What refuses the whole: a Bundle that cannot be used, and in a transaction any entry that cannot be read.</summary>
    public IEnumerable<FhirIssue> Fatal => Issues.Where(i => Bundle is null || i.Entry is null || AllOrNothing);

    /// <summary>Entries the text holds, readable or not.</summary>
    public int EntryCount => Bundle is null ? 0 : Math.Max(Bundle.Entry.Count, Issues.Max(i => i.Entry) + 1 ?? 0);
}

/// <summary>
/// Reads a FHIR R4 Bundle from JSON, strictly: an element, code or literal the specification does not know is an error with its
/// path and line, since what is not understood must not be dropped in silence. An error inside an entry stays with that entry.
/// </summary>
public static partial class ParseBundle
{
    /// <summary>Largest Bundle, in bytes: it is read as a whole.</summary>
    public const int MaxBytes = 8 * 1024 * 1024;

    public const int MaxEntries = 1_000;

    /// <summary>Most rows its entries may make.</summary>
    public const int MaxRows = 5_000;

    /// <summary>Deepest nesting of the JSON text.</summary>
    public const int MaxDepth = 64;

    private static readonly FhirJsonDeserializer Deserializer = new();

    /// <param name="bytes">The whole text, UTF-8.</param>
    public static ParsedBundle Read(ReadOnlySpan<byte> bytes)
    {
        if (bytes is [0xEF, 0xBB, 0xBF, ..]) bytes = bytes[3..];
        if (bytes.Length > MaxBytes) return Refused(OperationOutcome.IssueType.TooLong, $"the Bundle is larger than {MaxBytes} bytes");
        if (!System.Text.Unicode.Utf8.IsValid(bytes)) return Refused(OperationOutcome.IssueType.Structure, "the text is not UTF-8");
        if (CheckText(bytes) is { } fault) return Refused(OperationOutcome.IssueType.Structure, fault);
        Resource? resource;
        List<FhirIssue> issues;
        try
        {
            var reader = new Utf8JsonReader(bytes, new JsonReaderOptions { MaxDepth = MaxDepth });
            Deserializer.TryDeserializeResource(ref reader, out resource, out var found);
            issues = [.. found.Select(Issue)];
        }
        catch (Exception e) when (e is not OutOfMemoryException)
        {
            // The parser looks at text only: whatever it throws besides its own list of problems, this text made it do so.
            return Refused(OperationOutcome.IssueType.Structure, "the text cannot be read as a resource");
        }

        // What the parser complained of may throw when it is looked at: only sound parts are used from here on.
        if (issues.Exists(i => i.Entry is null)) return new(null, issues);
        if (resource is not Bundle bundle) return Refused(OperationOutcome.IssueType.Invalid, "the resource is not a Bundle");
        if (bundle.ImplicitRules is not null || bundle.Entry.Exists(e => e?.ModifierExtension.Count > 0))
            return Refused(OperationOutcome.IssueType.NotSupported, "has implicitRules or a modifierExtension this registry does not know");
        if (bundle.Type is not (Bundle.BundleType.Batch or Bundle.BundleType.Transaction))
            return new(null, [Error(null, OperationOutcome.IssueType.Value, "Bundle.type", "must be batch or transaction")]);
        if (bundle.Entry.Count > MaxEntries)
            return new(null, [Error(null, OperationOutcome.IssueType.TooLong, "Bundle.entry", $"has {bundle.Entry.Count} entries; send at "
                + $"most {MaxEntries} at once")]);
        return new(bundle, issues);
    }

    /// <summary>
    /// What the parser throws at, or falls over: text that is no JSON object, or too deep; half of a surrogate pair; a name without
    /// letters; a type that is no text; entries that are no array.
    /// </summary>
    private static string? CheckText(ReadOnlySpan<byte> bytes)
    {
        var reader = new Utf8JsonReader(bytes, new JsonReaderOptions { MaxDepth = MaxDepth });
        try
        {
            if (!reader.Read() || reader.TokenType != JsonTokenType.StartObject) return "the text is not one JSON object";
            bool entries = false, type = false;
            while (reader.Read())
            {
                if (entries && reader.TokenType != JsonTokenType.StartArray) return $"entry must be an array, line {LineOf(bytes, reader)}";
                if (type && reader.TokenType != JsonTokenType.String) return $"resourceType must be a text, line {LineOf(bytes, reader)}";
                type = reader.TokenType == JsonTokenType.PropertyName && reader.ValueTextEquals("resourceType");
                entries = reader is { TokenType: JsonTokenType.PropertyName, CurrentDepth: 1 } && reader.ValueTextEquals("entry");
                if (reader.TokenType == JsonTokenType.PropertyName && reader.GetString() is "" or "_")
                    return $"a property has no name, line {LineOf(bytes, reader)}";
                if (reader is { TokenType: JsonTokenType.String, ValueIsEscaped: true }) reader.GetString();
            }

            return null;
        }
        catch (JsonException e)
        {
            return $"not well-formed JSON, or deeper than {MaxDepth} levels, at line {e.LineNumber + 1}, byte {e.BytePositionInLine + 1}";
        }
        catch (InvalidOperationException)
        {
            return $"a text holds half of a surrogate pair, line {LineOf(bytes, reader)}";
        }
    }

    private static int LineOf(ReadOnlySpan<byte> bytes, in Utf8JsonReader reader) =>
        bytes[..(int)reader.TokenStartIndex].Count((byte)'\n') + 1;

    private static ParsedBundle Refused(OperationOutcome.IssueType type, string reason) => new(null, [Error(null, type, "Bundle", reason)]);

    private static FhirIssue Error(int? entry, OperationOutcome.IssueType type, string path, string reason) =>
        new(entry, OperationOutcome.IssueSeverity.Error, type, path, reason);

    /// <summary>The parser's messages repeat the value they complain of; its short names for the kinds of error do not.</summary>
    private static FhirIssue Issue(CodedException exception)
    {
        if (exception is not ExtendedCodedException e)
            return Error(null, OperationOutcome.IssueType.Invalid, "Bundle", $"cannot be read ({exception.ErrorCode})");
        var path = string.IsNullOrEmpty(e.InstancePath) || e.InstancePath == "$this" ? "Bundle" : Shorten(e.InstancePath);
        var line = e.LineNumber is { } n ? $", line {n}" : "";
        return Error(EntryOf(path), e.IssueType, path, $"{Lower(e.Display ?? "cannot be read")} ({e.ErrorCode}{line})");
    }

    /// <summary>The entry a path lies in.</summary>
    public static int? EntryOf(string path) =>
        EntryPath().Match(path) is { Success: true } match && int.TryParse(match.Groups[1].ValueSpan, out var entry)
            && entry < MaxEntries * 10 ? entry : null;

    private static string Lower(string text) => text.Length == 0 ? text : char.ToLowerInvariant(text[0]) + text[1..];

    /// <summary>A path may hold a name the sender made up: short, and of characters that can be stored and shown.</summary>
    private static string Shorten(string path) =>
        string.Concat(path.EnumerateRunes().Where(r => !System.Text.Rune.IsControl(r)).Take(200).Select(r => r.ToString()));

    [GeneratedRegex(@"^Bundle\.entry\[(\d{1,6})\]")]
    private static partial Regex EntryPath();
}
