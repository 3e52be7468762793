namespace Registry.Tests.Architecture;

/// <summary>Sums of tests and the changes that are not in them yet are read together, by the view that adds them: who reads one of the two
/// tables alone is wrong for a minute after every submission.</summary>
public sealed class CountsAreReadTogetherTests
{
    private static readonly string[] Tables = ["screen_counts", "count_changes"];

    /// <summary>Who writes them, folds them and holds them against the facts; who says who may.</summary>
    private static readonly string[] Keepers =
        ["src/Registry/Infants/Counting/", "src/Registry/Access/TableRights.cs", "src/Registry/Records/Migrations/"];

    [Fact]
    public void Only_who_keeps_the_counts_names_their_tables()
    {
        var offenders = new[] { "*.cs", "*.sql" }.SelectMany(kind => SourceTree.Files("src", kind))
            .Where(f => !Keepers.Any(k => SourceTree.Relative(f).StartsWith(k, StringComparison.Ordinal)))
            .Where(f => File.ReadAllText(f).Replace("all_screen_counts", "", StringComparison.Ordinal) is var text
                && Tables.Any(t => text.Contains(t, StringComparison.Ordinal)))
            .Select(SourceTree.Relative);
        Assert.Empty(offenders);
        Assert.Contains(SourceTree.Files("src", "*.sql"), f => File.ReadAllText(f).Contains("all_screen_counts", StringComparison.Ordinal));
    }
}
