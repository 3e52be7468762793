using System.Globalization;
using System.Text.RegularExpressions;
using Registry.Rules.Facts;
using Registry.Rules.Measures;
using Registry.Rules.Statistics;
using Xunit;

namespace Registry.Rules.Tests.Measures;

/// <summary>The worked examples of docs/measures come out as written, and every proportion has its page.</summary>
public sealed partial class DocumentedExamplesTests
{
    private static readonly string Folder = Path.Combine(Root(), "docs/measures");
    private static readonly MeasureSet Set = MeasureSet.Under(Policy.Default);

    public static TheoryData<string> Pages =>
    [
        .. Directory.GetFiles(Folder, "*.md").Where(f => File.ReadAllText(f).Contains("```example", StringComparison.Ordinal))
            .Select(f => Path.GetFileName(f)).Order(),
    ];

    [Theory]
    [MemberData(nameof(Pages))]
    public void The_example_comes_out_as_written(string page)
    {
        foreach (Match block in Example().Matches(File.ReadAllText(Path.Combine(Folder, page))))
        {
            var lines = block.Groups[1].Value.Split('\n', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
            var asOf = Day(lines[0].Split(' ')[^1]);
            var infants = lines.Where(l => InfantLine().IsMatch(l)).Select(l => Infant(l, asOf)).ToList();
            var expectations = lines.Where(l => l.StartsWith("expect ", StringComparison.Ordinal)).ToList();
            Assert.NotEmpty(expectations);
            Assert.Equal(lines.Length, 1 + infants.Count + expectations.Count);
            Assert.All(expectations, e => Assert.Equal(e, Actual(e, infants)));
        }
    }

    [Fact]
    public void Every_proportion_and_curve_is_named_on_its_page_and_every_measure_page_has_an_example()
    {
        var pages = Set.Ratios.Select(r => (r.Page, r.Code)).Concat(TimeToEvent.All.Select(c => ("time-to-event", c.Code)));
        Assert.All(pages, p => Assert.Contains($"`{p.Code}`", File.ReadAllText(Path.Combine(Folder, p.Item1 + ".md"))));
        Assert.All(Set.Ratios.Select(r => r.Page).Distinct(),
            p => Assert.Contains("```example", File.ReadAllText(Path.Combine(Folder, p + ".md"))));
    }

    /// <summary>The expectation's line, with what was computed in place of what was written.</summary>
    private static string Actual(string expectation, List<MeasuredInfant> infants)
    {
        var code = expectation.Split(' ')[1];
        if (TimeToEvent.All.FirstOrDefault(c => c.Code == code) is { } curve)
        {
            var days = int.Parse(expectation.Split(' ')[3], CultureInfo.InvariantCulture);
            var waits = infants.Where(curve.Population).Select(i => curve.WaitOf(i, i.AsOf)).OfType<CompetingWait>().ToList();
            var steps = KaplanMeier.Estimate(waits.Select(w => new Waiting(w.Time, w.End == WaitEnd.Event, w.After)));
            var done = 1 - (KaplanMeier.At(steps, days)?.Survival ?? 1);
            var happened = AalenJohansen.At(AalenJohansen.Estimate(waits), days)?.Event.Share ?? 0;
            return string.Create(CultureInfo.InvariantCulture,
                $"expect {code} at {days} days = {done * 100:0.0} % if nobody left, {happened * 100:0.0} % as it happens");
        }

        var tabulate = new Tabulate(Set);
        foreach (var infant in infants) tabulate.Add(infant);
        var table = tabulate.Result();
        if (Set.Ratios.FirstOrDefault(r => r.Code == code) is not { } ratio) return $"expect {code} = {table.Count(table.Whole, code)}";
        var share = new Proportion(table.Count(table.Whole, ratio.Numerator), table.Count(table.Whole, ratio.Denominator));
        var (rate, unit) = ratio.Per == 1000 ? (share.PerThousand(), "per 1,000") : (share.ToPercent(), "%");
        return string.Create(CultureInfo.InvariantCulture,
            $"expect {code} = {share.Numerator} of {share.Denominator}, {rate:0.0} {unit}");
    }

    private static MeasuredInfant Infant(string line, DateOnly asOf)
    {
        var facts = new InfantFacts { Birth = default };
        foreach (var fact in line[(line.IndexOf(':') + 1)..].Split(';', StringSplitOptions.TrimEntries))
        {
            var word = fact.Split(' ');
            facts = word[0] switch
            {
                "born" => facts with { Birth = Birth(word) },
                "right" or "left" => facts with { Tests = [.. facts.Tests, Test(word)] },
                "evaluated" => facts with { Evaluations = [.. facts.Evaluations, Evaluation(word)] },
                "died" => facts with { DiedOn = Day(word[1]) },
                "moved" => facts with { Moves = [.. facts.Moves, new(MoveKind.OutOfRegion, Day(word[1]))] },
                "declined" => facts with { Refusals = [.. facts.Refusals, new(Codes.Parse<PathStep>(word[1]), Day(word[2]))] },
                "contact" => facts with { ContactAttempts = [.. facts.ContactAttempts, Contact(word)] },
                _ => facts with { Interventions = [.. facts.Interventions, new(Codes.Parse<InterventionKind>(word[0]), Day(word[1]))] },
            };
        }

        return new(Guid.Empty, facts, EvaluateInfant.Evaluate(facts, Policy.Default, asOf), new(), asOf);
    }

    private static Birth Birth(string[] word)
    {
        var discharged = Array.IndexOf(word, "discharged");
        return new(Day(word[1]), null)
        {
            DischargedOn = discharged < 0 ? null : Day(word[discharged + 1]),
            Place = word.Length > 2 && Codes.TryParse<BirthPlace>(word[2], out var place) ? place : BirthPlace.Hospital,
        };
    }

    private static ScreeningTest Test(string[] word) =>
        new(Codes.Parse<Ear>(word[0]), Codes.Parse<ScreeningOutcome>(word[1]), Day(word[2]).ToDateTime(new TimeOnly(10, 0)))
        {
            Method = ScreeningMethod.Aabr,
            Reason = word.Length > 3 ? Codes.Parse<ScreeningReason>(word[3]) : ScreeningReason.None,
        };

    private static DiagnosticEvaluation Evaluation(string[] word) =>
        new(Day(word[1]), Codes.Parse<EarFinding>(word[3]), Codes.Parse<EarFinding>(word[5]));

    private static ContactAttempt Contact(string[] word) =>
        new(Codes.Parse<PathStep>(word[1]), Day(word[2]), Codes.Parse<ContactOutcome>(word[3]));

    private static DateOnly Day(string iso) => DateOnly.ParseExact(iso, "yyyy-MM-dd", CultureInfo.InvariantCulture);

    private static string Root()
    {
        var folder = new DirectoryInfo(AppContext.BaseDirectory);
        while (!File.Exists(Path.Combine(folder!.FullName, "Registry.sln"))) folder = folder.Parent;
        return folder.FullName;
    }

    [GeneratedRegex("```example\n(.*?)```", RegexOptions.Singleline)]
    private static partial Regex Example();

    [GeneratedRegex("^[A-Z][a-z]+:")]
    private static partial Regex InfantLine();
}
