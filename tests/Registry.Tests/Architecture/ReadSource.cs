using Microsoft.CodeAnalysis;
using Microsoft.CodeAnalysis.CSharp;
using Microsoft.CodeAnalysis.CSharp.Syntax;

namespace Registry.Tests.Architecture;

/// <summary>One file uses something that another one declares.</summary>
/// <param name="From">The file that uses it.</param>
/// <param name="To">The file that declares it.</param>
/// <param name="Name">The type.</param>
public sealed record Use(string From, string To, string Name);

/// <summary>
/// The program's source, read by the compiler: what each file declares, and what it uses of the others. A use is a use whatever it is
/// written like: a relative name, a member of a type that is never named, a type reached through a parent namespace. Pages (.cshtml) are
/// read by their words: each word that names a type of the namespaces they import.
/// </summary>
public static class ReadSource
{
    private static readonly Lazy<CSharpCompilation> Program = new(Compile);
    private static readonly Lazy<IReadOnlyList<Use>> All = new(() =>
        [.. Program.Value.SyntaxTrees.SelectMany(UsesOfCode).Concat(new ReadPageUses(Program.Value).All()).Distinct()]);

    /// <summary>Every use of one file by another, across both projects of the program.</summary>
    public static IReadOnlyList<Use> Uses => All.Value;

    /// <summary>The syntax trees of the program's own code, migrations and generated code left out.</summary>
    public static IEnumerable<SyntaxTree> Code => Program.Value.SyntaxTrees.Where(t => t.FilePath.Length > 0);

    /// <summary>What the compiler did not understand, but for members that a generator writes at build (CS8795).</summary>
    public static IEnumerable<string> Errors => Program.Value.GetDiagnostics()
        .Where(d => d.Severity == DiagnosticSeverity.Error && d.Id != "CS8795").Select(d => d.ToString());

    /// <summary>The file a type is declared in, relative to the checkout; null when it is not the program's.</summary>
    internal static string? FileOf(ISymbol symbol) =>
        symbol.DeclaringSyntaxReferences.FirstOrDefault()?.SyntaxTree.FilePath is { Length: > 0 } file ? file : null;

    private static IEnumerable<Use> UsesOfCode(SyntaxTree tree)
    {
        if (tree.FilePath.Length == 0) yield break;
        var model = Program.Value.GetSemanticModel(tree);
        foreach (var name in tree.GetRoot().DescendantNodes().OfType<SimpleNameSyntax>())
        {
            if (name.Ancestors().Any(a => a is UsingDirectiveSyntax)) continue;
            var info = model.GetSymbolInfo(name);
            var symbol = info.Symbol ?? info.CandidateSymbols.FirstOrDefault();
            var type = symbol as INamedTypeSymbol ?? symbol?.ContainingType;
            if (type is not null && FileOf(type.OriginalDefinition) is { } file && file != tree.FilePath)
                yield return new(tree.FilePath, file, type.Name);
        }
    }

    private static CSharpCompilation Compile()
    {
        const string UsingsOfEveryFile = """
            global using System; global using System.Collections.Generic; global using System.IO; global using System.Linq;
            global using System.Net.Http; global using System.Net.Http.Json; global using System.Threading;
            global using System.Threading.Tasks; global using Microsoft.AspNetCore.Builder; global using Microsoft.AspNetCore.Hosting; global using Microsoft.AspNetCore.Http;
            global using Microsoft.AspNetCore.Routing; global using Microsoft.Extensions.Configuration;
            global using Microsoft.Extensions.DependencyInjection; global using Microsoft.Extensions.Hosting;
            global using Microsoft.Extensions.Logging;
            """;
        var options = CSharpParseOptions.Default.WithLanguageVersion(LanguageVersion.Preview);
        var trees = SourceTree.Files("src", "*.cs").Where(f => !f.Contains("/Migrations/", StringComparison.Ordinal))
            .Select(f => CSharpSyntaxTree.ParseText(File.ReadAllText(f), options, SourceTree.Relative(f)))
            .Append(CSharpSyntaxTree.ParseText(UsingsOfEveryFile, options));
        var libraries = ((string)AppContext.GetData("TRUSTED_PLATFORM_ASSEMBLIES")!).Split(Path.PathSeparator)
            .Where(path => Path.GetFileName(path) is not ("Registry.dll" or "Registry.Rules.dll"))
            .Select(path => MetadataReference.CreateFromFile(path));
        return CSharpCompilation.Create("Source", trees, libraries, new(OutputKind.ConsoleApplication));
    }
}

/// <summary>The uses of a page: words in it that name a type of a namespace it sees.</summary>
internal sealed class ReadPageUses(CSharpCompilation program)
{
    private static readonly char[] NotOfAWord =
        [.. Enumerable.Range(0, 128).Select(c => (char)c).Where(c => !char.IsLetterOrDigit(c) && c != '_')];

    private readonly ILookup<string, INamedTypeSymbol> _types = program.GlobalNamespace.GetNamespaceMembers()
        .Where(n => n.Name == "Registry").SelectMany(TypesIn).Where(t => ReadSource.FileOf(t) is not null)
        .ToLookup(t => t.ContainingNamespace.ToString()!);

    public IEnumerable<Use> All() => SourceTree.Files("src/Registry", "*.cshtml").SelectMany(UsesOfPage);

    private IEnumerable<Use> UsesOfPage(string page)
    {
        var text = File.ReadAllText(page);
        // What a page sees without saying so: the namespaces of _ViewImports are the foundation's, which every page may use.
        var sees = text.Split('\n').Select(line => line.Trim()).Where(line => line.StartsWith("@using ", StringComparison.Ordinal))
            .Select(line => line["@using ".Length..]).Append("Registry").ToHashSet();
        var words = text.Split(NotOfAWord).ToHashSet();
        foreach (var space in _types.Where(n => sees.Contains(n.Key) || (n.Key != "Registry" && Names(text, n.Key))))
            foreach (var type in space.Where(t => words.Contains(t.Name)))
                yield return new(SourceTree.Relative(page), ReadSource.FileOf(type)!, type.Name);
    }

    /// <summary>Whether a text holds a qualified name of a namespace, with or without the root in front.</summary>
    private static bool Names(string text, string space) => text.Contains($"{space["Registry.".Length..]}.", StringComparison.Ordinal);

    private static IEnumerable<INamedTypeSymbol> TypesIn(INamespaceSymbol space) =>
        space.GetTypeMembers().Concat(space.GetNamespaceMembers().SelectMany(TypesIn));
}
