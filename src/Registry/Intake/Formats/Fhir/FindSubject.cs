using Hl7.Fhir.Model;

namespace Registry.Intake.Formats.Fhir;

/// <summary>The infant a resource speaks of: a Patient of the same Bundle, one the registry gave an id, or one named by an
/// identifier.</summary>
/// <param name="Key">Equal for resources about the same infant.</param>
/// <param name="Entry">The Patient's entry, when it is in the Bundle.</param>
/// <param name="Infant">The registry's id.</param>
public sealed record FhirSubject(string Key, int? Entry = null, Guid? Infant = null, Identifier? Identifier = null);

/// <summary>
/// Follows references by R4's rules for Bundles: a fullUrl (urn:uuid or absolute) first, then <c>Type/id</c> within the Bundle, then the
/// registry's own ids; and, instead of a reference, an identifier or a search by one.
/// </summary>
public sealed class FindSubject
{
    private readonly Bundle _bundle;
    private readonly Dictionary<string, int> _byUrl = new(StringComparer.Ordinal);
    private readonly Dictionary<string, int> _byTypeAndId = new(StringComparer.Ordinal);

    /// <param name="parsed">A Bundle; of its entries only the readable ones are looked at.</param>
    public FindSubject(ParsedBundle parsed)
    {
        var bundle = _bundle = parsed.Bundle!;
        var unreadable = parsed.Issues.Select(i => i.Entry).ToHashSet();
        for (var i = 0; i < bundle.Entry.Count; i++)
        {
            if (unreadable.Contains(i) || bundle.Entry[i] is not { } entry) continue;
            if (entry.FullUrl is { Length: > 0 } url && !_byUrl.TryAdd(url, i)) Repeated.Add(i);
            if (entry.Resource?.Id is { Length: > 0 } id) _byTypeAndId.TryAdd($"{entry.Resource.TypeName}/{id}", i);
            if (entry.FullUrl is { } full && TypeAndId(full) is { } tail) _byTypeAndId.TryAdd(tail, i);
        }
    }

    /// <summary>Entries whose fullUrl an earlier entry has.</summary>
    public HashSet<int> Repeated { get; } = [];

    /// <summary>The entry of the Bundle a reference points to.</summary>
    public int? EntryOf(ResourceReference? reference)
    {
        if (reference?.Reference is not { Length: > 0 } target) return null;
        return _byUrl.TryGetValue(target, out var entry) || (TypeAndId(target) is { } tail && _byTypeAndId.TryGetValue(tail, out entry))
            ? entry : null;
    }

    /// <summary>The resource of the Bundle a reference points to, when it is of that type.</summary>
    public T? Resource<T>(ResourceReference? reference) where T : Resource => EntryOf(reference) is { } entry
        ? _bundle.Entry[entry]?.Resource as T : null;

    /// <summary>The infant a reference means, or why it cannot be told.</summary>
    public (FhirSubject? Subject, string? Problem) Of(ResourceReference? reference)
    {
        if (reference is null || (reference.Reference is null && reference.Identifier?.Value is null)) return (null, "is required");
        if (reference.Reference is not { Length: > 0 } target)
            return (new($"{reference.Identifier!.System}|{reference.Identifier.Value}", Identifier: reference.Identifier), null);
        if (EntryOf(reference) is { } entry)
        {
            return _bundle.Entry[entry]?.Resource is Patient
                ? (new($"#{entry}", Entry: entry), null)
                : (null, "refers to an entry that is no readable Patient");
        }

        if (target.StartsWith("Patient?", StringComparison.Ordinal))
        {
            return Search(target["Patient?".Length..]) is [var only]
                ? (new($"{only.System}|{only.Value}", Identifier: only), null)
                : (null, "a search must be Patient?identifier=system|value");
        }

        if (TypeAndId(target) is { } tail && tail.StartsWith("Patient/", StringComparison.Ordinal)
            && Guid.TryParse(tail.AsSpan("Patient/".Length), out var id))
            return (new($"Patient/{id}", Infant: id), null);
        return (null, target.StartsWith("urn:", StringComparison.Ordinal)
            ? "refers to no readable entry of this Bundle"
            : "is neither an entry of this Bundle nor an id this registry gave out");
    }

    /// <summary>The identifiers of a search <c>identifier=system|value,…</c>; null when it asks for anything else.</summary>
    public static IReadOnlyList<Identifier>? Search(string query)
    {
        var parameters = Microsoft.AspNetCore.WebUtilities.QueryHelpers.ParseQuery(query);
        if (parameters.Count != 1 || !parameters.TryGetValue("identifier", out var values) || values is not [{ Length: > 0 } text])
            return null;
        var found = new List<Identifier>();
        foreach (var token in Split(text, ','))
        {
            var parts = Split(token, '|').Select(Unescape).ToArray();
            var identifier = parts switch
            {
                [var value] => new Identifier(null, value),
                [var system, var value] => new Identifier(system.Length == 0 ? null : system, value),
                _ => null,
            };
            if (string.IsNullOrEmpty(identifier?.Value)) return null;
            found.Add(identifier);
        }

        return found;
    }

    /// <summary>R4 search escapes <c>, | $ \</c> with a backslash.</summary>
    private static List<string> Split(string text, char separator)
    {
        var parts = new List<string>();
        var start = 0;
        for (var i = 0; i < text.Length; i++)
        {
            if (text[i] == '\\') i++;
            else if (text[i] == separator)
            {
                parts.Add(text[start..i]);
                start = i + 1;
            }
        }

        parts.Add(text[start..]);
        return parts;
    }

    private static string Unescape(string text)
    {
        var plain = new System.Text.StringBuilder(text.Length);
        for (var i = 0; i < text.Length; i++)
            plain.Append(text[i] == '\\' && i + 1 < text.Length ? text[++i] : text[i]);
        return plain.ToString();
    }

    /// <summary><c>Type/id</c> at the end of a relative or absolute reference, without a version.</summary>
    private static string? TypeAndId(string reference)
    {
        var history = reference.IndexOf("/_history/", StringComparison.Ordinal);
        var parts = (history < 0 ? reference : reference[..history]).Split('/');
        return parts is [.., { Length: > 0 } type, { Length: > 0 } id] && char.IsAsciiLetterUpper(type[0]) ? $"{type}/{id}" : null;
    }
}
