using Registry.Intake;
using Registry.Rules.Facts;

namespace Registry.Tests.Intake;

/// <summary>The list of standard codes says things we know, each thing by one code of a system.</summary>
public sealed class StandardCodesTests
{
    [Fact]
    public void Every_meaning_is_one_of_ours()
    {
        foreach (var code in StandardCodes.All)
        {
            var known = code.Set switch
            {
                CodeSet.Outcome => Codes.TryParse<ScreeningOutcome>(code.Means, out _),
                CodeSet.Method => Codes.TryParse<ScreeningMethod>(code.Means, out _),
                CodeSet.BodySite => Codes.TryParse<Ear>(code.Means, out var ear) && ear == code.Ear,
                CodeSet.Plurality => int.TryParse(code.Means, out _),
                CodeSet.Risk => code.Means is null or "none" || Codes.TryParse<RiskIndicatorKind>(code.Means, out _),
                _ => code.Means is not null,
            };
            Assert.True(known && code.Source is 'F' or 'M' && code.Display.Length > 0, $"{code.System} {code.Code} {code.Means}");
        }
    }

    /// <summary>SNOMED CT International Edition: 25577004 right ear structure, 89644007 left ear structure.</summary>
    [Fact]
    public void The_ears_are_not_mixed_up()
    {
        Assert.Equal(Ear.Right, StandardCodes.Find(CodeSet.BodySite, CodingSystem.Snomed, "25577004")!.Ear);
        Assert.Equal(Ear.Left, StandardCodes.Find(CodeSet.BodySite, CodingSystem.Snomed, "89644007")!.Ear);
        Assert.All(StandardCodes.All.Where(c => c.Display.EndsWith("- right", StringComparison.Ordinal)), c => Assert.Equal(Ear.Right, c.Ear));
        Assert.All(StandardCodes.All.Where(c => c.Display.EndsWith("- left", StringComparison.Ordinal)), c => Assert.Equal(Ear.Left, c.Ear));
        Assert.Null(StandardCodes.Find(CodeSet.Observation, CodingSystem.Snomed, "54109-4"));
    }
}
