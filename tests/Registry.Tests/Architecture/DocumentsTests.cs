using System.Text.RegularExpressions;

namespace Registry.Tests.Architecture;

/// <summary>What a document names is there: a file of the source, a page it links to.</summary>
public sealed partial class DocumentsTests
{
    private static readonly string[] Documents =
    [
        .. SourceTree.Files("src", "*.md"), .. SourceTree.Files("docs", "*.md"), .. SourceTree.Files("deploy", "*.md"),
        Path.Combine(SourceTree.Root, "README.md"), Path.Combine(SourceTree.Root, "DEVELOPERS.md"),
    ];

    [Fact]
    public void Files_a_document_names_are_there() => None(
        from document in Documents
        where !Path.GetFileName(document).StartsWith("20", StringComparison.Ordinal) // a decision speaks of its day
        from Match named in NamedFile().Matches(File.ReadAllText(document))
        let path = named.Groups[1].Value
        where !Roots(document).Any(root => File.Exists(Path.Combine(root, path)))
        select $"{SourceTree.Relative(document)} names {path}");

    [Fact]
    public void Links_of_a_document_lead_somewhere() => None(
        from document in Documents
        from Match link in Link().Matches(File.ReadAllText(document))
        let path = Path.Combine(Path.GetDirectoryName(document)!, link.Groups[1].Value)
        where !File.Exists(path) && !Directory.Exists(path)
        select $"{SourceTree.Relative(document)} links to {link.Groups[1].Value}");

    private static string[] Roots(string document) =>
    [
        SourceTree.Root, Path.Combine(SourceTree.Root, "src"), Path.Combine(SourceTree.Root, "src/Registry"),
        Path.GetDirectoryName(document)!,
    ];

    private static void None(IEnumerable<string> offenders) => Assert.Empty(offenders.Distinct().Order());

    [GeneratedRegex(@"`([\w.][\w./-]*/[\w.-]+\.(?:cs|sql|cshtml|md|csv|tsv|json))`")]
    private static partial Regex NamedFile();

    [GeneratedRegex(@"\]\((?!https?:|#|mailto:)([^)#\s]+)")]
    private static partial Regex Link();
}
