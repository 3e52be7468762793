using System.Text.RegularExpressions;
using Microsoft.CodeAnalysis;
using Microsoft.CodeAnalysis.CSharp;
using Microsoft.CodeAnalysis.CSharp.Syntax;
using Microsoft.CodeAnalysis.Text;

namespace Registry.Tests.Architecture;

/// <summary>The measures a reader can rely on: how long a line, a method and a file get, and what a page model never does.</summary>
public sealed partial class SourceShapeTests
{
    private const int LongestLine = 140;
    private const int LongestMethod = 60;
    private const int LongestFile = 250;

    /// <remarks>A long text in a test is sent or compared as it stands (a file, a message, an answer): it is not code.</remarks>
    [Fact]
    public void No_line_of_code_is_longer_than_140_characters() => None(
        SourceTree.Files("src", "*.cs").Concat(SourceTree.Files("tests", "*.cs")).Where(IsWritten).SelectMany(LongLines));

    private static IEnumerable<string> LongLines(string file)
    {
        var lines = File.ReadAllLines(file);
        var tooLong = Enumerable.Range(0, lines.Length).Where(i => lines[i].Length > LongestLine).ToHashSet();
        if (tooLong.Count > 0 && SourceTree.Relative(file).StartsWith("tests/", StringComparison.Ordinal))
            foreach (var (start, end) in LongTexts(file).Select(t => (t.Start.Line, t.End.Line)))
                tooLong.ExceptWith(Enumerable.Range(start, end - start + 1));
        return tooLong.Select(i => $"{SourceTree.Relative(file)}:{i + 1} has {lines[i].Length} characters");
    }

    private static IEnumerable<LinePositionSpan> LongTexts(string file)
    {
        var tree = CSharpSyntaxTree.ParseText(File.ReadAllText(file));
        return tree.GetRoot().DescendantNodes()
            .Where(n => n is InterpolatedStringExpressionSyntax || n.IsKind(SyntaxKind.StringLiteralExpression)
                || n.IsKind(SyntaxKind.Utf8StringLiteralExpression))
            .Where(n => n.Span.Length > LongestLine / 3).Select(n => tree.GetLineSpan(n.Span).Span);
    }

    [Fact]
    public void No_source_file_is_longer_than_250_lines() => None(
        new[] { "*.cs", "*.cshtml", "*.sql" }.SelectMany(kind => SourceTree.Files("src", kind)).Where(IsWritten)
            .Select(f => (File: f, Lines: File.ReadLines(f).Count())).Where(f => f.Lines > LongestFile)
            .Select(f => $"{SourceTree.Relative(f.File)} has {f.Lines} lines"));

    /// <remarks>EF copies the whole model beside each migration and builds it again whenever the migration runs; only <c>ef migrations
    /// remove</c> reads it, of the one before the last.</remarks>
    [Fact]
    public void Only_the_last_two_migrations_keep_a_copy_of_the_model() => None(
        SourceTree.Files("src/Registry/Records/Migrations", "*.Designer.cs").Order(StringComparer.Ordinal).SkipLast(2)
            .Where(f => File.ReadAllText(f).Contains("BuildTargetModel", StringComparison.Ordinal))
            .Select(f => $"{SourceTree.Relative(f)}: delete BuildTargetModel and the usings it needs, as in the files before it"));

    [Fact]
    public void No_method_is_longer_than_60_lines() => None(
        ReadSource.Code.SelectMany(tree => tree.GetRoot().DescendantNodes().OfType<MemberDeclarationSyntax>())
            .Where(m => m is BaseMethodDeclarationSyntax or BasePropertyDeclarationSyntax)
            .Select(m => (Member: m, Lines: LinesOf(m))).Where(m => m.Lines > LongestMethod)
            .Select(m => $"{m.Member.SyntaxTree.FilePath}: {NameOf(m.Member)} has {m.Lines} lines"));

    [Fact]
    public void No_page_model_opens_a_connection_or_holds_SQL() => None(
        SourceTree.Files("src", "*.cshtml.cs")
            .SelectMany(f => WorkOfUseCases().Matches(File.ReadAllText(f)).Select(m => $"{SourceTree.Relative(f)}: {m.Value.Trim()}")));

    [Fact]
    public void The_table_of_contents_stays_short() =>
        Assert.InRange(File.ReadAllLines(Path.Combine(SourceTree.Root, "src/Registry/Program.cs")).Length, 1, 60);

    [Fact]
    public void No_folder_is_named_for_a_technical_role()
    {
        string[] banned = ["Services", "Helpers", "Common", "Managers", "Utils", "Utilities"];
        None(SourceTree.Files("src", "*.cs").Select(SourceTree.Relative).Where(f => f.Split('/').Any(banned.Contains)));
    }

    private static bool IsWritten(string file) => !file.Contains("/Migrations/", StringComparison.Ordinal);

    private static int LinesOf(SyntaxNode node)
    {
        var span = node.SyntaxTree.GetLineSpan(node.Span);
        return span.EndLinePosition.Line - span.StartLinePosition.Line + 1;
    }

    private static string NameOf(MemberDeclarationSyntax member) => member switch
    {
        MethodDeclarationSyntax method => method.Identifier.Text,
        PropertyDeclarationSyntax property => property.Identifier.Text,
        ConstructorDeclarationSyntax constructor => constructor.Identifier.Text,
        _ => member.GetType().Name,
    };

    private static void None(IEnumerable<string> offenders)
    {
        var lines = offenders.Distinct().Order().ToList();
        Assert.True(lines.Count == 0, string.Join('\n', lines));
    }

    [GeneratedRegex(
        @"\bNpgsql\w*|\bOpenConnection\w*|\bCreateCommand\b|\bEmbeddedSql\b|\b(From|Execute)Sql\w*"
        + @"|""\s*(select|insert into|update|delete from|with)\s[^""]*")]
    private static partial Regex WorkOfUseCases();
}
