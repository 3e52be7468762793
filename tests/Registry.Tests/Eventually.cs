using System.Diagnostics;
using System.Runtime.CompilerServices;

namespace Registry.Tests;

/// <summary>Waits for what must come, however slow the machine and whatever else it does: no test asserts a speed.</summary>
internal static class Eventually
{
    /// <summary>Longer than any machine needs; it only ends a run in which the thing never comes.</summary>
    public static readonly TimeSpan Patience = TimeSpan.FromMinutes(10);

    /// <param name="condition">Asked again and again until it holds.</param>
    /// <param name="otherwise">What is known when it never does.</param>
    /// <param name="what">Filled in by the compiler.</param>
    public static Task HoldsAsync(Func<bool> condition, Func<string>? otherwise = null,
        [CallerArgumentExpression(nameof(condition))] string what = "") =>
        HoldsAsync(() => Task.FromResult(condition()), otherwise, what);

    /// <returns>What was read last, when it holds.</returns>
    public static async Task<T> ReadsAsync<T>(Func<Task<T>> read, Func<T, bool> holds)
    {
        T value = default!;
        await HoldsAsync(async () => holds(value = await read()), () => $"last: {value}");
        return value;
    }

    /// <inheritdoc cref="HoldsAsync(Func{bool}, Func{string}?, string)"/>
    public static async Task HoldsAsync(Func<Task<bool>> condition, Func<string>? otherwise = null,
        [CallerArgumentExpression(nameof(condition))] string what = "")
    {
        var clock = Stopwatch.StartNew();
        while (!await condition())
        {
            Assert.True(clock.Elapsed < Patience, $"Never came: {what} ({otherwise?.Invoke()})");
            await Task.Delay(20, TestContext.Current.CancellationToken);
        }
    }
}
