using Xunit.Sdk;
using Xunit.v3;

[assembly: TestCollectionOrderer(typeof(Registry.Tests.LongestFirst))]

namespace Registry.Tests;

/// <summary>What takes longest begins first: begun last, it would keep one core waiting for the other.</summary>
public sealed class LongestFirst : ITestCollectionOrderer
{
    private static readonly string[] Long =
    [
        "EveryPage", "DemoProblems", "ReleaseAudit", "Killed", "FirstDay", "OrderOfRows", "BulkUpload", "CountScreening", "Guesse",
        "OddRequests", "SignInLimits", "OpenId", "R4", "SubmissionPages", "WaitingRows", "Screens", "SliceEdges", "LoadDemoRegion",
        "FuzzTests",
    ];

    public IReadOnlyCollection<TTestCollection> OrderTestCollections<TTestCollection>(IReadOnlyCollection<TTestCollection> testCollections)
        where TTestCollection : ITestCollection =>
        [.. testCollections.OrderBy(c =>
            (uint)Array.FindIndex(Long, part => c.TestCollectionDisplayName.Contains(part, StringComparison.Ordinal)))];
}
