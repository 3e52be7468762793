using System.Globalization;
using System.Text;
using System.Text.RegularExpressions;
using Microsoft.AspNetCore.Identity;
using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Infrastructure;
using Registry.Records;
using Registry.Rules;

namespace Registry.Tests.Architecture;

/// <summary>
/// One concept, one name: docs/vocabulary.md is held against every code, every table and column, and every heading and label of a page.
/// What a page or a person typed (values, sentences) is not looked at.
/// </summary>
public sealed partial class VocabularyTests
{
    private static readonly Vocabulary Written = Vocabulary.Read(Path.Combine(SourceTree.Root, "docs/vocabulary.md"));

    /// <summary>Everything that has a name: where it stands, and its words.</summary>
    private static readonly List<(string Where, string Text)> Names = [.. Codes(), .. Columns(), .. Headings()];

    [Fact]
    public void Every_term_has_a_meaning_and_an_owner_and_stands_once()
    {
        Assert.Empty(Written.Terms.Where(t => t.Meaning.Length == 0 || !Owner().IsMatch(t.Whose)).Select(t => t.Names[0]));
        Assert.Empty(Written.Terms.SelectMany(t => t.Names).GroupBy(n => n).Where(g => g.Count() > 1).Select(g => g.Key));
    }

    [Fact]
    public void Every_word_of_a_code_a_column_a_heading_or_a_label_is_a_term_or_an_ordinary_word()
    {
        var known = Forms(WordsOfTerms().Concat(Written.OrdinaryWords));
        var exceptions = Written.Sayings.SelectMany(s => s.Exceptions).ToHashSet();
        var offenders = Names.Where(n => !exceptions.Contains(n.Where)).SelectMany(n => Words(n.Text).Select(word => (Word: word, n.Where)))
            .Where(w => !Forms([w.Word]).Overlaps(known))
            .GroupBy(w => w.Word).OrderBy(g => g.Key, StringComparer.Ordinal)
            .Select(g => $"{g.Key}: {string.Join(", ", g.Select(w => w.Where).Distinct().Take(3))}").ToList();
        Assert.True(offenders.Count == 0, $"{offenders.Count} words are in no list of docs/vocabulary.md:\n{string.Join('\n', offenders)}");
    }

    [Fact]
    public void Ordinary_words_are_in_order_used_and_no_terms()
    {
        Assert.Equal(Written.OrdinaryWords.Distinct().Order(StringComparer.Ordinal), Written.OrdinaryWords);
        var (terms, used) = (Forms(WordsOfTerms()), Forms(Names.SelectMany(n => Words(n.Text))));
        Assert.Equal("", string.Join(' ', Written.OrdinaryWords.Where(w => Forms([w]).Overlaps(terms))));
        Assert.Equal("", string.Join(' ', Written.OrdinaryWords.Where(w => !Forms([w]).Overlaps(used))));
    }

    [Fact]
    public void A_word_we_do_not_say_is_in_no_code_column_heading_or_label()
    {
        var offenders = Written.Sayings.SelectMany(s => Names.Where(n => s.Forbids(n.Text) && !s.Exceptions.Contains(n.Where))
            .Select(n => $"{n.Where}: say \"{string.Join(", ", s.Say)}\", not \"{n.Text}\"")).ToList();
        Assert.True(offenders.Count == 0, string.Join('\n', offenders));
    }

    [Fact]
    public void What_we_say_is_a_term_and_every_exception_still_stands()
    {
        Assert.Empty(Written.Sayings.SelectMany(s => s.Say).Except(Written.Terms.SelectMany(t => t.Names)));
        Assert.Empty(Written.Sayings.SelectMany(s => s.Exceptions.Where(e => !Names.Any(n => n.Where == e && s.Forbids(n.Text)))));
    }

    private static IEnumerable<string> WordsOfTerms() => Written.Terms.SelectMany(t => t.Names).SelectMany(Words);

    private static IEnumerable<(string Where, string Text)> Codes() =>
        from type in typeof(RegistryDb).Assembly.GetTypes().Concat(typeof(EvaluateInfant).Assembly.GetTypes())
        where type.IsEnum && type.IsPublic
        from name in Enum.GetNames(type)
        select ($"{type.Name}.{name}", SnakeCase(name));

    /// <summary>Tables and columns of the model, without those the sign-in library names.</summary>
    private static IEnumerable<(string Where, string Text)> Columns()
    {
        var theirs = typeof(IdentityUser<Guid>).GetProperties().Select(p => p.Name).ToHashSet();
        var snapshot = typeof(RegistryDb).Assembly.GetTypes().Single(t => t.IsSubclassOf(typeof(ModelSnapshot)));
        var model = ((ModelSnapshot)Activator.CreateInstance(snapshot, nonPublic: true)!).Model;
        foreach (var entity in model.GetEntityTypes().Where(e => !e.Name.StartsWith("Microsoft.", StringComparison.Ordinal)))
        {
            var table = entity.GetTableName()!;
            yield return (table, table);
            foreach (var property in entity.GetProperties().Where(p => !theirs.Contains(p.Name) || p.Name == "Id"))
                yield return ($"{table}.{property.GetColumnName()}", property.GetColumnName());
        }
    }

    /// <summary>The words a page says by itself in its title, headings, labels, column titles and navigation; English only.</summary>
    private static IEnumerable<(string Where, string Text)> Headings() =>
        from file in SourceTree.Files("src/Registry", "*.cshtml")
        let page = InSpanish().Replace(File.ReadAllText(file), "")
        let titles = Title().Matches(page).Select(m => m.Groups["text"].Value)
        let elements = Element().Matches(WithoutCode(page))
            .Where(m => m.Groups[1].Value != "a" || page.Contains("<nav", StringComparison.Ordinal))
        from text in titles.Concat(elements.Select(m => Tag().Replace(m.Groups["text"].Value, " ")))
        let plain = Spaces().Replace(text, " ").Trim()
        where plain.Length > 0
        select (Path.GetFileName(file), plain);

    /// <summary>A page's text without what it computes: from @ over names, calls and brackets.</summary>
    private static string WithoutCode(string page)
    {
        var text = new StringBuilder(page.Length);
        for (var i = 0; i < page.Length; i++)
        {
            if (page[i] != '@' || i + 1 < page.Length && page[i + 1] == '@') text.Append(page[i]);
            else i = EndOfCode(page, i + 1) - 1;
        }

        return text.ToString();
    }

    private static int EndOfCode(string page, int at)
    {
        if (page[at] == '*') return page.IndexOf("*@", at, StringComparison.Ordinal) + 2;
        if (Statement().Match(page, at) is { Success: true } statement) at += statement.Length - 1;
        var depth = 0;
        for (; at < page.Length; at++)
        {
            var c = page[at];
            if (c is '(' or '[') depth++;
            else if (depth > 0 && c is ')' or ']') depth--;
            else if (depth > 0 && c == '"') at = page.IndexOf('"', at + 1);
            else if (depth == 0 && !char.IsLetterOrDigit(c)
                && !(c is '_' or '.' or '!' && at + 1 < page.Length && char.IsLetter(page[at + 1])))
                return at;
        }

        return at;
    }

    private static IEnumerable<string> Words(string text) =>
        Word().Matches(text.ToLowerInvariant()).Select(m => m.Value).Where(w => w.Length > 1);

    /// <summary>A word with its plural, past and present forms, roughly.</summary>
    private static HashSet<string> Forms(IEnumerable<string> words)
    {
        var forms = new HashSet<string>(StringComparer.Ordinal);
        foreach (var word in words)
        {
            forms.Add(word);
            foreach (var ending in (string[])["s", "es", "d", "ed", "ing"])
            {
                if (word.Length <= ending.Length + 2 || !word.EndsWith(ending, StringComparison.Ordinal)) continue;
                forms.Add(word[..^ending.Length]);
                if (ending == "ing") forms.Add(word[..^3] + "e");
            }

            if (word.EndsWith("ies", StringComparison.Ordinal)) forms.Add(word[..^3] + "y");
        }

        return forms;
    }

    private static string SnakeCase(string name) => string.Concat(name.Select((c, i) => i > 0 && char.IsUpper(c)
        ? $"_{char.ToLower(c, CultureInfo.InvariantCulture)}"
        : char.ToLower(c, CultureInfo.InvariantCulture).ToString()));

    private sealed record Term(IReadOnlyList<string> Names, string Meaning, string Whose);

    /// <param name="Never">Phrases; one that begins with = forbids only the whole name.</param>
    private sealed record Saying(IReadOnlyList<string> Say, IReadOnlyList<string> Never, IReadOnlySet<string> Exceptions)
    {
        public bool Forbids(string text)
        {
            var words = string.Join(' ', Words(text));
            return Never.Any(never =>
                never[0] == '=' ? words == never[1..] : $" {words} ".Contains($" {never} ", StringComparison.Ordinal));
        }
    }

    private sealed record Vocabulary(IReadOnlyList<Term> Terms, IReadOnlyList<Saying> Sayings, IReadOnlyList<string> OrdinaryWords)
    {
        public static Vocabulary Read(string file)
        {
            var (terms, sayings, ordinary, heading) = (new List<Term>(), new List<Saying>(), new List<string>(), "");
            foreach (var line in File.ReadLines(file))
            {
                if (line.StartsWith("## ", StringComparison.Ordinal)) heading = line[3..];
                else if (heading == "Ordinary words" && Lower().IsMatch(line)) ordinary.AddRange(line.Split(' '));
                else if (line.Split('|', StringSplitOptions.TrimEntries) is [_, var a, var b, var c, _] && Row().IsMatch(line))
                {
                    if (heading == "Say this, not that")
                        sayings.Add(new(a.Split(", "), b.Split(", "), Quoted().Matches(c).Select(m => m.Groups[1].Value).ToHashSet()));
                    else terms.Add(new(a.Split(", "), b, c));
                }
            }

            return new(terms, sayings, ordinary);
        }
    }

    [GeneratedRegex("^(ours|(trade|standard): .+)$")]
    private static partial Regex Owner();

    [GeneratedRegex(@"<(h[1-6]|label|th|legend|summary|caption|a)\b[^>]*>(?<text>.*?)</\1>", RegexOptions.Singleline)]
    private static partial Regex Element();

    [GeneratedRegex(@"<(\w+)[^>]* lang=""es""[^>]*>.*?</\1>", RegexOptions.Singleline)]
    private static partial Regex InSpanish();

    [GeneratedRegex(@"ViewData\[""Title""\] = ""(?<text>[^""]+)""")]
    private static partial Regex Title();

    [GeneratedRegex(@"\G(if|foreach|for|while|switch)\s*\(")]
    private static partial Regex Statement();

    [GeneratedRegex(@"<[^>]*>|&[a-z]+;|\}\s*else\s*\{|[{}]")]
    private static partial Regex Tag();

    /// <summary>A row of a table, neither its head nor the line under it.</summary>
    [GeneratedRegex(@"^\| (?!Term \||Say \|)")]
    private static partial Regex Row();

    [GeneratedRegex(@"\s+")]
    private static partial Regex Spaces();

    [GeneratedRegex("[a-z]+")]
    private static partial Regex Word();

    [GeneratedRegex("^[a-z ]+$")]
    private static partial Regex Lower();

    [GeneratedRegex("`([^`]+)`")]
    private static partial Regex Quoted();
}
