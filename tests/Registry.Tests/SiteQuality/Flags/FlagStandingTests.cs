using Registry.SiteQuality.Flags;

namespace Registry.Tests.SiteQuality.Flags;

/// <summary>What a history of acts comes to.</summary>
public sealed class FlagStandingTests
{
    private static readonly DateTimeOffset At = new(2026, 11, 25, 12, 0, 0, TimeSpan.Zero);

    [Theory]
    [InlineData("", FlagState.New)]
    [InlineData("Seen", FlagState.Seen)]
    [InlineData("Explained Seen", FlagState.Explained)]
    [InlineData("Acted", FlagState.Acted)]
    [InlineData("Acted Watched", FlagState.Watched)]
    [InlineData("Watched Acted", FlagState.Acted)]
    [InlineData("Watched Explained", FlagState.Watched)]
    [InlineData("Watched Acted Watched", FlagState.Watched)]
    [InlineData("Watched Acted -2", FlagState.Watched)]
    [InlineData("Acted Closed", FlagState.Closed)]
    [InlineData("Acted Closed Reopened", FlagState.Seen)]
    [InlineData("Acted Closed Reopened Explained", FlagState.Explained)]
    [InlineData("Seen -1", FlagState.New)]
    [InlineData("Seen Closed -2", FlagState.Seen)]
    [InlineData("Acted Closed Reopened -3", FlagState.Closed)]
    [InlineData("Seen Closed -2 Watched -4", FlagState.Seen)]
    public void The_state_is_the_furthest_act_nobody_took_back_since_it_was_reopened(string acts, FlagState state)
    {
        var standing = FlagStanding.Of(Acts(acts), m => DateOnly.FromDateTime(m.DateTime));
        Assert.Equal(state, standing.State);
        Assert.Equal(state == FlagState.Closed ? new DateOnly(2026, 11, 25) : null, standing.ClosedOn);
        Assert.Equal(state == FlagState.Watched ? new DateOnly(2026, 12, 24) : null, standing.WatchedUntil);
    }

    [Theory]
    [InlineData("Seen Closed", 2)]
    [InlineData("Seen Closed -2", 1)]
    [InlineData("Seen -1", null)]
    public void What_can_be_taken_back_is_the_last_act_that_stands(string acts, int? number) =>
        Assert.Equal(number, FlagStanding.Of(Acts(acts), m => DateOnly.FromDateTime(m.DateTime)).Last?.Number);

    private static List<FlagAct> Acts(string acts) => [.. acts.Split(' ', StringSplitOptions.RemoveEmptyEntries)
        .Select((a, i) => new FlagAct
    {
        Number = i + 1,
        At = At,
        Kind = a[0] == '-' ? FlagActKind.TakenBack : Enum.Parse<FlagActKind>(a),
        TakesBack = a[0] == '-' ? a[1] - '0' : null,
        Day = a == "Watched" ? new DateOnly(2026, 12, 24) : null,
    })];
}
