using Registry.Rules.Chance;
using Registry.Rules.Statistics;
using Xunit;

namespace Registry.Rules.Tests.Chance;

/// <summary>The chance of loss on invented histories whose true chances are known.</summary>
public sealed class FitLossTests
{
    private const int SmallCount = 10;

    [Fact]
    public void A_history_with_a_known_cause_is_recovered_and_comes_true()
    {
        var (model, check) = FitLoss.Of(History(4_000, Chance), SmallCount)!.Value;
        Assert.True(check.Holds, check.ToString());
        Assert.InRange(check.Calibration.Slope, 0.85, 1.15);
        Assert.True(check.Area.Area > 0.65);
        foreach (var (phone, mere) in new[] { (true, false), (true, true), (false, false), (false, true) })
            Assert.Equal(Chance(phone, mere), model.Probability(Case(phone, mere)), 0.05);
        Assert.Equal([LossFactor.Phone, LossFactor.County], model.Of(Case(phone: false, mere: true)).Because);
        Assert.Empty(model.Of(Case(phone: true, mere: false)).Because);
        Assert.Equal(4_000, check.Calibration.Groups.Sum(g => g.Cases));

        static double Chance(bool phone, bool mere) => LogisticRegression.Probability(-2.2 + (phone ? 0 : 1.8) + (mere ? 0.8 : 0));
    }

    /// <summary>Loss by the toss of a coin, and twenty counties to see patterns in: those who fit may believe it, held out infants do
    /// not.</summary>
    [Fact]
    public void What_goes_with_nothing_is_not_used()
    {
        var random = new Random(5);
        List<PastCase> cases = [.. Enumerable.Range(0, 1_500).Select(i => Past(random, i % 2 == 0, false, 0.3,
            county: $"county {random.Next(20)}"))];
        Assert.False(FitLoss.Of(cases, SmallCount)!.Value.Check.Holds);
    }

    [Fact]
    public void Too_short_a_history_tells_no_chance()
    {
        var few = History(900, (_, _) => 0.1).Take(900).ToList();
        Assert.InRange(few.Count(c => c.Lost), 50, 99 + 30);
        Assert.Null(FitLoss.Of([.. few.Where(c => c.Lost).Take(99), .. few.Where(c => !c.Lost)], SmallCount));
        Assert.Null(FitLoss.Of([], SmallCount));
    }

    [Fact]
    public void The_order_cases_come_in_does_not_matter()
    {
        var cases = History(1_200, (phone, _) => phone ? 0.2 : 0.4);
        var (one, other) = (FitLoss.Of(cases, SmallCount)!.Value, FitLoss.Of([.. cases.AsEnumerable().Reverse()], SmallCount)!.Value);
        foreach (var (a, b) in one.Model.Terms.OrderBy(Key).Zip(other.Model.Terms.OrderBy(Key)))
        {
            Assert.Equal((a.Factor, a.Level, a.Cases), (b.Factor, b.Level, b.Cases));
            Assert.Equal(a.LogOdds, b.LogOdds, 1e-9);
        }

        Assert.Equal(one.Check.Area.Area, other.Check.Area.Area, 1e-9);
        static (LossFactor, string) Key(LossTerm term) => (term.Factor, term.Level);
    }

    /// <summary>An infant that says the same at several ages must not be told from itself: all its cases are held out together.</summary>
    [Fact]
    public void An_infant_is_never_told_from_itself()
    {
        var random = new Random(7);
        List<PastCase> cases = [.. Enumerable.Range(0, 300).SelectMany(i =>
        {
            // Each has a county of its own, which tells its loss exactly where the infant itself was seen.
            var first = Past(random, true, false, 0.4, county: $"county {i}");
            return Enumerable.Repeat(first, 12);
        })];
        Assert.InRange(FitLoss.Of(cases, SmallCount)!.Value.Check.Area.Area, 0.4, 0.6);
    }

    [Fact]
    public void No_small_group_is_shown_or_left_over()
    {
        var random = new Random(11);
        List<PastCase> cases = [.. Enumerable.Range(0, 2_000).Select(i => Past(random, true, false, 0.3,
            language: i < 1_500 ? "en" : i < 1_960 ? "es" : i < 1_990 ? "so" : i < 1_995 ? "ar" : null))];
        var check = FitLoss.Of(cases, SmallCount)!.Value.Check;
        foreach (var by in check.Groups.GroupBy(g => g.By))
        {
            Assert.Equal(2_000, by.Sum(g => g.Counts.Cases));
            Assert.Equal(cases.Count(c => c.Lost), by.Sum(g => g.Counts.Events));
            Assert.All(by, g => Assert.True(g.Counts.Events >= SmallCount && g.Counts.Cases - g.Counts.Events >= SmallCount));
        }

        Assert.DoesNotContain(check.Groups, g => g.Level is "so" or "ar" or "not_recorded" && g.By == LossFactor.Language
            && g.Counts.Events < SmallCount);
        Assert.All(check.Calibration.Groups, g => Assert.True(g.Events >= SmallCount));
    }

    private static List<PastCase> History(int infants, Func<bool, bool, double> chance)
    {
        var random = new Random(3);
        return [.. Enumerable.Range(0, infants).Select(i =>
        {
            var (phone, mere) = (random.Next(4) > 0, random.Next(3) == 0);
            return Past(random, phone, mere, chance(phone, mere));
        })];
    }

    private static PastCase Past(
        Random random, bool phone, bool mere, double chance, string? county = null, string? language = "en")
    {
        var id = new byte[16];
        random.NextBytes(id);
        return new(new(id), Case(phone, mere, county, language), random.NextDouble() < chance,
            new("harbour", "Lind", county, language, null, phone ? 2 : 0));
    }

    private static LossCase Case(bool phone, bool mere, string? county = null, string? language = "en")
    {
        var levels = Enumerable.Repeat("same", Enum.GetValues<LossFactor>().Length).ToArray();
        levels[(int)LossFactor.Phone] = phone ? "2" : "0";
        levels[(int)LossFactor.County] = county ?? (mere ? "mere" : "lind");
        levels[(int)LossFactor.Language] = language ?? "not_recorded";
        return new(levels);
    }
}
