using Registry.Rules.Quality;
using Xunit;

namespace Registry.Rules.Tests.Quality;

/// <summary>Signals shared between sites: whoever can see a doubling within a month has what that takes, and nobody is left
/// without.</summary>
public sealed class ShareSignalsTests
{
    private const double Never = double.PositiveInfinity;

    [Fact]
    public void Who_lacks_the_fewest_has_them_and_no_more()
    {
        // Each keeps .4; the second lacks 1.1, and the others share what is left.
        var shares = ShareSignals.Among([.1, 1.5, Never, Never], [1, 1, 1, 1], 4);

        Assert.Equal([.4, 1.5, 1.05, 1.05], shares.Select(s => Math.Round(s, 9)));
    }

    [Fact]
    public void What_is_left_is_shared_by_weight()
    {
        var shares = ShareSignals.Among([Never, Never, Never], [3, 2, 1], 6);

        Assert.Equal([3, 2, 1], shares.Select(s => Math.Round(s, 9)));
    }

    [Fact]
    public void Nobody_has_many_times_an_equal_share_and_nobody_loses_all()
    {
        // Ten sites that would each need five of the ten there are; the first ones would take all.
        var shares = ShareSignals.Among([.. Enumerable.Repeat(5.0, 10)], [.. Enumerable.Repeat(1.0, 10)], 10);

        Assert.All(shares, s => Assert.InRange(s, .4, 3.5));
        Assert.Equal(10, shares.Sum(), 9);
    }

    [Fact]
    public void Nothing_more_is_given_where_nobody_lacks_it() =>
        Assert.Equal([.8, .8], ShareSignals.Among([.1, .2], [1, 1], 4).Select(s => Math.Round(s, 9)));
}
