using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Infants.Counting;

/// <summary>From when to when a statement held.</summary>
internal readonly record struct Held(DateTimeOffset RecordedAt, DateTimeOffset? SupersededAt);

/// <summary>A statement of a test, with what the rules do not ask for.</summary>
internal sealed record ToldTest(
    Held Held, Guid Id, SiteId SiteId, ScreeningTest Test, string? Instrument, string? Probe, string? Screener, DateTimeOffset ReceivedAt);

/// <summary>Everything ever said of one infant that decides how its tests count.</summary>
internal sealed class ToldFacts(InfantId infant)
{
    public InfantId Infant { get; } = infant;
    public List<(Held Held, Birth Birth)> Births { get; } = [];
    public List<(Held Held, Transfer Transfer)> Transfers { get; } = [];
    public List<ToldTest> Tests { get; } = [];

    /// <summary>As they are stored.</summary>
    public List<CountedTest> Stored { get; } = [];

    /// <summary>Every moment at which something began or ceased to hold.</summary>
    public IEnumerable<DateTimeOffset> Moments() =>
        Births.Select(b => b.Held).Concat(Transfers.Select(t => t.Held)).Concat(Tests.Select(t => t.Held))
            .SelectMany(h => h.SupersededAt is { } until ? new[] { h.RecordedAt, until } : [h.RecordedAt]);
}
