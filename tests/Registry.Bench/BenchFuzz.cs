using System.Diagnostics;
using System.Globalization;
using Registry.Tests.Fuzzing;

namespace Registry.Bench;

/// <summary>A million mutated files and messages through every parser: no exception, no hang. Says the first that fails, with its bytes.</summary>
internal static class BenchFuzz
{
    public static async Task<int> RunAsync(int inputs)
    {
        var root = new DirectoryInfo(AppContext.BaseDirectory);
        while (root is not null && !File.Exists(Path.Combine(root.FullName, "Registry.sln"))) root = root.Parent;
        if (root is null) throw new InvalidOperationException("Run it inside the source tree: the examples of docs/intake are what is mutated.");
        var documents = Path.Combine(root.FullName, "docs", "intake");
        var clock = Stopwatch.StartNew();
        var share = (inputs + Environment.ProcessorCount - 1) / Environment.ProcessorCount;
        var seen = await Task.WhenAll(Enumerable.Range(0, Environment.ProcessorCount)
            .Select(i => Task.Run(() => FuzzParsers.RunAsync(documents, i * share, Math.Min(share, inputs - (i * share)), CancellationToken.None))));
        foreach (var failed in seen.Where(s => s.Failure is not null)) Console.WriteLine(failed.Failure);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"{seen.Sum(s => s.Inputs):N0} inputs in {clock.Elapsed.TotalSeconds:0} s: {seen.Sum(s => s.Refused):N0} refused, {seen.Sum(s => s.Rows):N0} rows read, {seen.Sum(s => s.Valid):N0} of them valid; slowest {seen.Max(s => s.Slowest).TotalMilliseconds:0} ms; {seen.Count(s => s.Failure is not null)} failed"));
        return seen.Any(s => s.Failure is not null) ? 1 : 0;
    }
}
