using Registry.Rules;
using Registry.Rules.Work;
using Registry.Ui;

namespace Registry.Tests.Ui;

/// <summary>Every flag and every due step has words of its own: an empty tag, or one label for two steps, tells nobody what to
/// do.</summary>
public sealed class StatusWordsTests
{
    [Fact]
    public void Every_flag_has_its_own_words_and_its_own_caution()
    {
        var flags = Enum.GetValues<StatusFlags>().Where(f => f != StatusFlags.None).ToList();
        Assert.All(flags, f => Assert.True(Words.Of(f).Length > 0 && Words.Caution(f).Length > 0, f.ToString()));
        Assert.Distinct(flags.Select(Words.Of));
        Assert.Distinct(flags.Select(Words.Caution));
    }

    [Fact]
    public void Every_due_step_has_its_own_words_and_a_step_of_the_path()
    {
        var steps = Enum.GetValues<DueStep>();
        Assert.All(steps, s => Assert.NotEmpty(Words.Of(s)));
        Assert.Distinct(steps.Select(Words.Of));
        Assert.All(steps, s => Assert.True(Enum.IsDefined(WorkPlace.PathOf(s))));
    }
}
