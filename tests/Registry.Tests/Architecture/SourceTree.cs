using System.Runtime.CompilerServices;

namespace Registry.Tests.Architecture;

/// <summary>Finds the checkout from the place of this file, whatever folder the tests run in.</summary>
public static class SourceTree
{
    public static string Root { get; } = Path.GetFullPath(Path.Combine(Path.GetDirectoryName(Here())!, "../../.."));

    public static IEnumerable<string> Files(string folder, string pattern) =>
        Directory.EnumerateFiles(Path.Combine(Root, folder), pattern, SearchOption.AllDirectories)
            .Where(f => !f.Split(Path.DirectorySeparatorChar).Any(part => part is "bin" or "obj" or "node_modules"));

    public static string Relative(string file) => Path.GetRelativePath(Root, file).Replace('\\', '/');

    private static string Here([CallerFilePath] string path = "") => path;
}
