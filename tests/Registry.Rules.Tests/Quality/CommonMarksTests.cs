using Registry.Rules.Quality;
using Xunit;

namespace Registry.Rules.Tests.Quality;

/// <summary>The limit is the policy's; the cases say what it means.</summary>
public sealed class CommonMarksTests
{
    private static MarkedUnit[] Late(int limit, params int[] days) =>
        [.. days.Select((d, i) => new MarkedUnit($"{(char)('a' + i)}", d > limit, d))];

    [Fact]
    public void A_mark_that_few_carry_stands()
    {
        var marks = CommonMarks.Of(Late(7, 2, 3, 9, 4, 30, 5), Policy.Default);
        Assert.False(marks.Common);
        Assert.Equal(["c", "e"], marks.Codes.Order());
    }

    [Fact]
    public void A_mark_that_all_carry_is_none_and_only_those_far_beyond_the_others_keep_it()
    {
        Assert.Empty(CommonMarks.Of(Late(7, 9, 10, 11, 12, 9, 10), Policy.Default).Codes);

        // Quartiles of 9 9 10 10 11 12 40: 9.5 and 11.5, so the limit is 14.5.
        var marks = CommonMarks.Of(Late(7, 9, 10, 11, 12, 9, 10, 40), Policy.Default);
        Assert.True(marks.Common);
        Assert.Equal(["g"], marks.Codes);
    }

    [Fact]
    public void Exactly_as_many_as_allowed_is_not_common_and_the_policy_says_how_many()
    {
        var six = Late(7, 1, 2, 3, 8, 9, 10);
        Assert.False(CommonMarks.Of(six, Policy.Default).Common);
        Assert.True(CommonMarks.Of(six, Policy.Default with { CommonMarkPercent = 49 }).Common);
        Assert.False(CommonMarks.Of(Late(0, 1, 2, 3, 8, 9, 10), Policy.Default with { CommonMarkPercent = 100 }).Common);
    }

    [Fact]
    public void Of_two_silent_sites_both_are() =>
        Assert.Equal(["a", "b"], CommonMarks.Of(Late(7, 20, 21), Policy.Default).Codes.Order());

    /// <summary>Whoever is above the box plot's limit without a mark gets none.</summary>
    [Fact]
    public void Nobody_is_marked_who_was_not()
    {
        MarkedUnit[] units = [.. Late(7, 8, 8, 8, 8), new("e", false, 50)];
        Assert.Empty(CommonMarks.Of(units, Policy.Default).Codes);
    }
}
