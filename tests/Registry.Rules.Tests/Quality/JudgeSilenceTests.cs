using Registry.Rules.Quality;
using Xunit;

namespace Registry.Rules.Tests.Quality;

/// <summary>None of a Poisson process's events in a time that lets expect e of them: exp(-e) (Poisson 1837, every table of it: .0498 at 3,
/// .000912 at 7).</summary>
public sealed class JudgeSilenceTests
{
    private static readonly DateOnly Today = new(2026, 11, 25);

    [Theory]
    [InlineData(6.9, false), InlineData(6.91, true)] // ln 1000 = 6.9078
    public void Once_in_a_thousand_by_chance_is_silent(double expected, bool silent) =>
        Assert.Equal(silent, JudgeSilence.IsSilent(expected, Policy.Default));

    [Theory]
    [InlineData(3, .0498, 20, true), InlineData(3, .0498, 21, false)]
    [InlineData(7, .000912, 1096, true), InlineData(7, .000912, 1097, false)]
    public void The_policy_says_how_rare(double expected, double chance, int oneIn, bool silent)
    {
        Assert.Equal(chance, Math.Exp(-expected), 4);
        Assert.Equal(silent, JudgeSilence.IsSilent(expected, Policy.Default with { SilenceOdds = oneIn }));
    }

    [Theory]
    [InlineData(10, 2, 0), InlineData(10, 7, 0), InlineData(10, 8, 10), InlineData(0.15, 53, 6.9)]
    public void Days_within_the_agreed_arrival_are_not_counted(double perDay, int daysAgo, double expected) =>
        Assert.Equal(expected, JudgeSilence.Expected(perDay, Today.AddDays(-daysAgo), Today, 7), 6);

    [Theory]
    [InlineData(1, 7), InlineData(3, 7), InlineData(4, 8), InlineData(14, 28)]
    public void A_rhythm_allows_twice_its_usual_gap_and_at_least_a_week(int usual, int allowed) =>
        Assert.Equal(allowed, JudgeSilence.AllowedDays(4, usual, null, Policy.Default));

    [Theory]
    [InlineData(4, 1, 45, 45), InlineData(4, 30, 45, 60), InlineData(4, 1, 3, 7)]
    [InlineData(3, 1, 45, null), InlineData(1, null, 45, null), InlineData(0, null, null, null)]
    public void Quiet_is_allowed_as_long_as_the_site_agreed_to(int days, int? usual, int? agreed, int? allowed) =>
        Assert.Equal(allowed, JudgeSilence.AllowedDays(days, usual, agreed, Policy.Default));

    [Theory]
    [InlineData(null, 30), InlineData(7, 30), InlineData(45, 45)]
    public void Without_a_rhythm_a_month_or_what_was_agreed(int? agreed, int allowed) =>
        Assert.Equal(allowed, JudgeSilence.AllowedWithoutRhythm(agreed));
}
