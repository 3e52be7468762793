using System.Text.RegularExpressions;
using Registry.Meeting;
using Registry.PolicyChanges;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Measures;
using Registry.Tests.Architecture;
using Registry.Ui;

namespace Registry.Tests.Ui;

/// <summary>What people read is in the language of the trade, in US spelling: a hearing loss and a family lost to follow-up are never both
/// just "loss", abbreviations stand in capitals.</summary>
public sealed partial class TradeWordsTests
{
    /// <summary>Every coded value, every rule, every choice of the policy, every line and share, as shown.</summary>
    public static TheoryData<string> Shown =>
    [
        .. new[] { typeof(Policy).Assembly, typeof(Words).Assembly }.SelectMany(a => a.GetTypes())
            .Where(t => t.IsEnum && t.IsPublic && !Inner.Contains(t)
                && t.Namespace?.StartsWith("Registry", StringComparison.Ordinal) == true)
            .SelectMany(t => Enum.GetValues(t).Cast<Enum>()).Select(v => v switch
            {
                StatusFlags.None => "",
                StatusFlags flag => Words.Of(flag),
                DueStep step => Words.Of(step),
                HearingConclusion hearing => Words.Of(hearing),
                LossState state => Words.Of(state),
                StatusAspect aspect => PolicyWords.Of(aspect),
                MeetingTopic topic => MeetingWords.Of(topic),
                _ => Words.Of(v),
            }).Where(s => s.Length > 0)
            .Concat(RuleCatalogue.All.SelectMany(r => new[] { r.Title, r.Text }))
            .Concat(Policy.Default.Choices().SelectMany(c => new[] { c.Title, c.Text, c.Source }))
            .Concat(MeasureSet.Under(Policy.Default).Lines.Select(l => l.Name))
            .Concat(MeasureSet.Under(Policy.Default).Ratios.Select(r => r.Name))
            .Concat(TimeToEvent.All.Select(c => c.Name))
            .Concat(Enum.GetValues<StatusFlags>().Where(f => f != StatusFlags.None).Select(Words.Caution))
            .Distinct(),
    ];

    /// <summary>Never shown by their names.</summary>
    private static readonly HashSet<Type> Inner =
    [
        typeof(Registry.Intake.HeldRows.WhyRefused), typeof(Registry.Infants.Statuses.StatusFigure),
        typeof(Registry.Rules.Work.WorkReasonKind), // said by WorkWords, with its day
    ];

    [Theory]
    [MemberData(nameof(Shown))]
    public void Is_spelled_as_the_trade_spells_it(string words) => Assert.Empty(Wrong(words));

    [Fact]
    public void Pages_and_words_are_spelled_as_the_trade_spells_them()
    {
        var src = Path.Combine(SourceTree.Root, "src", "Registry");
        var wrong = Directory.EnumerateFiles(src, "*.cshtml", SearchOption.AllDirectories)
            .SelectMany(f => Text().Matches(File.ReadAllText(f)).SelectMany(m => Wrong(m.Value)).Select(w => $"{Path.GetFileName(f)}: {w}"))
            .Concat(Directory.EnumerateFiles(src, "*Words*.cs", SearchOption.AllDirectories)
                .Where(f => !f.EndsWith("WordsOfTheTrade.cs", StringComparison.Ordinal))
                .SelectMany(f => Quoted().Matches(Hole().Replace(File.ReadAllText(f), "")).SelectMany(m => Wrong(m.Value))
                    .Select(w => $"{Path.GetFileName(f)}: {w}")));
        Assert.True(!wrong.Any(), string.Join('\n', wrong));
    }

    [Fact]
    public void Words_within_a_sentence_keep_abbreviations_and_names()
    {
        Assert.Equal("NICU over five days", Words.Within(Words.Of(RiskIndicatorKind.NicuOverFiveDays)));
        Assert.Equal("congenital CMV", Words.Within(Words.Of((Enum)RiskIndicatorKind.CongenitalCmv)));
        Assert.Equal("ECMO", Words.Within(Words.Of(RiskIndicatorKind.Ecmo)));
        Assert.Equal("Zika laboratory only", Words.Within(Words.Of(RiskIndicatorKind.ZikaLaboratoryOnly)));
        Assert.Equal("IFSP meeting", Words.Within(Words.Of((Enum)InterventionKind.ServicePlan)));
        Assert.Equal("auditory neuropathy (ANSD)", Words.Within(Words.Of((Enum)EarFinding.AuditoryNeuropathy)));
        Assert.Equal("enrol_in_intervention", Words.Code(DueStep.EnrolInIntervention));
    }

    private static IEnumerable<string> Wrong(string words) => BareLoss().Matches(words)
        .Concat(BareLost().Matches(words)).Concat(SmallAbbreviation().Matches(words)).Concat(British().Matches(words))
        .Select(m => $"{m.Value} in: {words.Trim()}");

    [GeneratedRegex(@"(?<!hearing )(?<!Hearing )(?<!follow-up )\b[Ll]oss(es)?\b(?! (of|grace|to))")]
    private static partial Regex BareLoss();

    [GeneratedRegex(@"\b[Ll]ost\b(?! (to|before))(?<!Not lost)(?<!not lost)")]
    private static partial Regex BareLost();

    [GeneratedRegex(@"\b(nicu|Nicu|abr|Abr|aabr|oae|Oae|cmv|Cmv|ecmo|Ecmo|ansd|ifsp|Ifsp|part c)\b")]
    private static partial Regex SmallAbbreviation();

    [GeneratedRegex(
        @"\b(enrols?|enrolments?|centre|programme|colour|behaviour|(recogn|organ|normal|standard)is\w*|licence|artefacts?"
            + @"|millilitres?|cancelled)\b",
        RegexOptions.IgnoreCase)]
    private static partial Regex British();

    /// <summary>What stands between two tags, without Razor's code.</summary>
    [GeneratedRegex(@">[^<>@{}=;]+<")]
    private static partial Regex Text();

    /// <summary>What a text is filled with.</summary>
    [GeneratedRegex(@"\{[^{}\n]*\}")]
    private static partial Regex Hole();

    [GeneratedRegex(@"""[^""\n]*""")]
    private static partial Regex Quoted();
}
