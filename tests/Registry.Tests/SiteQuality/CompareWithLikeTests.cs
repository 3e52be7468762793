using Registry.Infants.Counting;
using Registry.Records;
using Registry.SiteQuality;

namespace Registry.Tests.SiteQuality;

public sealed class CompareWithLikeTests
{
    /// <summary>Refers of first sessions, of infants.</summary>
    private static readonly UnitLine[] Lines =
    [
        Line("own", 500, 60), Line("a", 400, 20), Line("b", 600, 24), Line("c", 700, 49), Line("d", 800, 40),
        Line("far", 5000, 2500), Line("other", 500, 300, CareLevel.LevelFour),
    ];

    [Fact]
    public void A_site_stands_beside_those_like_it_and_not_beside_itself()
    {
        var like = CompareWithLike.Of(Lines[0], Lines)!;
        Assert.Equal(4, like.Others);
        var refers = like.Measures.Single(m => m.Name == "First test referred");
        Assert.Equal((60, 500), (refers.Own.Numerator, refers.Own.Denominator));
        Assert.Equal((133, 2500), (refers.Together.Numerator, refers.Together.Denominator));
        Assert.Equal((.04, .07), (refers.Lowest.Rate!.Value, refers.Highest.Rate!.Value));
    }

    [Fact]
    public void Where_each_could_be_told_from_the_others_nothing_is_compared() => Assert.Null(CompareWithLike.Of(Lines[0], Lines[..4]));

    /// <summary>Its infants were tested, none with a valid result: of them nobody knows a lowest rate.</summary>
    [Fact]
    public void A_site_without_data_is_not_the_lowest()
    {
        UnitLine[] lines = [.. Lines, Line("none", 500, 0, valid: 0)];
        var like = CompareWithLike.Of(lines[0], lines)!;
        Assert.Equal(5, like.Others);
        Assert.Equal(.04, like.Measures.Single(m => m.Name == "First test referred").Lowest.Rate);
        UnitLine[] nothing = [Lines[0], .. "abcd".Select(c => Line($"{c}", 500, 0, valid: 0))];
        Assert.Null(CompareWithLike.Of(nothing[0], nothing)!.Measures.Single(m => m.Name == "First test referred").Highest.Rate);
    }

    private static UnitLine Line(string code, int infants, int referred, CareLevel level = CareLevel.LevelTwo, int? valid = null)
    {
        var figures = new int[Enum.GetValues<ScreenFigure>().Length];
        figures[(int)ScreenFigure.Infants] = infants;
        figures[(int)ScreenFigure.Sessions] = valid ?? infants;
        figures[(int)ScreenFigure.SessionReferred] = referred;
        var site = new Site { Id = SiteId.New(), Code = code, Name = code, County = "Lind", CareLevel = level };
        return new(site, new(site.Id, "", figures), []);
    }
}
