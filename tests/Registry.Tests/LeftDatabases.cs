using System.Collections.Concurrent;
using System.Reflection;
using Xunit.v3;

[assembly: Registry.Tests.LeftDatabases]

namespace Registry.Tests;

/// <summary>
/// Knows which databases nobody uses any more: the test that began them is over, and every program on them has ended. They are dropped
/// when the next one is made, so that those of a whole run never lie side by side. What a class or the run shares stays to the end.
/// </summary>
[AttributeUsage(AttributeTargets.Assembly)]
public sealed class LeftDatabasesAttribute : BeforeAfterTestAttribute
{
    private static readonly Dictionary<string, Use> InUse = [];
    private static readonly ConcurrentQueue<string> Left = [];

    /// <summary>A program begins on a database.</summary>
    public static void Enter(string database)
    {
        lock (InUse)
        {
            if (!InUse.TryGetValue(database, out var use)) InUse[database] = use = new(TestContext.Current.Test?.UniqueID);
            use.Programs++;
        }
    }

    /// <summary>A program on it has ended.</summary>
    public static void Leave(string database)
    {
        lock (InUse)
        {
            if (InUse.TryGetValue(database, out var use) && --use.Programs == 0 && use.IsOver) Give(database);
        }
    }

    /// <summary>It became a template: it stays.</summary>
    public static void Keep(string database)
    {
        lock (InUse) InUse.Remove(database);
    }

    public static bool TryTake([System.Diagnostics.CodeAnalysis.NotNullWhen(true)] out string? database) => Left.TryDequeue(out database);

    public override void After(MethodInfo methodUnderTest, IXunitTest test)
    {
        lock (InUse)
        {
            foreach (var (database, use) in InUse.Where(u => u.Value.Test == test.UniqueID).ToList())
            {
                use.IsOver = true;
                if (use.Programs == 0) Give(database);
            }
        }
    }

    private static void Give(string database)
    {
        InUse.Remove(database);
        Left.Enqueue(database);
    }

    private sealed class Use(string? test)
    {
        public string? Test { get; } = test;
        public int Programs { get; set; }
        public bool IsOver { get; set; }
    }
}
