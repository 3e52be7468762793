using System.Diagnostics;
using System.Globalization;
using Registry.Tests.Fuzzing;

namespace Registry.Bench;

/// <summary>
/// A million mutated files and messages through every parser: no exception, no hang; and every so many of them sent to the program over
/// loopback: no answer of 5xx. Says the first that fails, with its bytes.
/// </summary>
internal static class BenchFuzz
{
    public static async Task<int> RunAsync(int inputs, int overHttpEvery)
    {
        var root = new DirectoryInfo(AppContext.BaseDirectory);
        while (root is not null && !File.Exists(Path.Combine(root.FullName, "Registry.sln"))) root = root.Parent;
        if (root is null) throw new InvalidOperationException(
            "Run it inside the source tree: the examples of docs/intake are what is mutated.");
        var cases = new FuzzCases(Path.Combine(root.FullName, "docs", "intake"));
        var clock = Stopwatch.StartNew();
        var shares = Environment.ProcessorCount;
        var share = (inputs + shares - 1) / shares;
        var seen = await Task.WhenAll(Enumerable.Range(0, shares)
            .Select(i => Task.Run(
                () => FuzzParsers.RunAsync(cases, i * share, Math.Min(share, inputs - (i * share)), CancellationToken.None))));
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"parsers: {seen.Sum(s => s.Inputs):N0} inputs in {clock.Elapsed.TotalSeconds:0} s: {seen.Sum(s => s.Refused):N0} refused, "
                + $"{seen.Sum(s => s.Rows):N0} rows read, {seen.Sum(s => s.Valid):N0} of them valid; slowest "
                + $"{seen.Max(s => s.Slowest).TotalMilliseconds:0} ms; {seen.Count(s => s.Failure is not null)} failed"));

        await using var bench = await BenchServer.StartAsync();
        await using var program = new ProgramOnLoopback(await bench.CreateAsync("bench_fuzz"));
        using var http = await program.SiteClientAsync(2 * shares);
        clock.Restart();
        var numbers = Enumerable.Range(0, inputs).Where(n => n % overHttpEvery == 0).ToArray();
        var answered = await Task.WhenAll(Enumerable.Range(0, 2 * shares)
            .Select(i => FuzzHttp.RunAsync(http, cases, numbers.Where((_, at) => at % (2 * shares) == i), CancellationToken.None)));
        var statuses = answered.SelectMany(a => a.Answers).GroupBy(a => a.Key, a => a.Value).OrderBy(g => g.Key)
            .Select(g => $"{g.Sum()} × {g.Key}");
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"HTTP: {answered.Sum(a => a.Answers.Values.Sum()):N0} inputs in {clock.Elapsed.TotalSeconds:0} s: "
                + $"{string.Join(", ", statuses)}; {answered.Count(a => a.Failure is not null)} failed"));

        var failures = seen.Select(s => s.Failure).Concat(answered.Select(a => a.Failure)).OfType<string>().ToList();
        foreach (var failure in failures) Console.WriteLine(failure);
        return failures.Count > 0 ? 1 : 0;
    }
}
