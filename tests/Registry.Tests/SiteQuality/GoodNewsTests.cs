using Registry.Infants.Counting;
using Registry.Records;
using Registry.Rules;
using Registry.SiteQuality;

namespace Registry.Tests.SiteQuality;

public sealed class GoodNewsTests
{
    private const string Nothing = "Nothing stands out beyond chance: no instrument, probe or screener is flagged.";

    [Theory]
    [InlineData(SiteWords.FewestForNothing, 0, true)]
    [InlineData(SiteWords.FewestForNothing - 1, 0, false)] // a handful says nothing
    [InlineData(5000, 1, false)] // it stands in the list of flags, though the last night did not find it
    public void That_nothing_stands_out_is_said_of_enough_infants_and_without_an_open_flag(int infants, int open, bool said)
    {
        var figures = new int[Enum.GetValues<ScreenFigure>().Length];
        figures[(int)ScreenFigure.Infants] = infants;
        var counts = new ScreenCounts(SiteId.New(), "", figures);
        var news = SiteWords.GoodNews(counts, counts, open, new(MeasureDelays.Figures([], [], Policy.Default), [], 7, Policy.Default));
        Assert.Equal(said, news.Contains(Nothing));
    }
}
