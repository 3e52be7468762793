using Microsoft.Extensions.Options;

namespace Registry.Platform;

/// <summary>The one place that knows what day it is. Rules and queries take dates as arguments.</summary>
public sealed class ProgramClock(TimeProvider time, IOptions<ProgramOptions> options)
{
    private volatile TimeZoneInfo _zone = TimeZoneInfo.FindSystemTimeZoneById(options.Value.TimeZone);

    /// <summary>The region's time zone, as the program states it now.</summary>
    public TimeZoneInfo Zone => _zone.Id == options.Value.TimeZone
        ? _zone : _zone = TimeZoneInfo.FindSystemTimeZoneById(options.Value.TimeZone);

    public DateTimeOffset Now => options.Value.Today is { } pinned
        ? new DateTimeOffset(pinned.ToDateTime(new TimeOnly(12, 0)), Zone.GetUtcOffset(pinned.ToDateTime(new TimeOnly(12, 0))))
            .ToUniversalTime()
        : time.GetUtcNow();

    /// <summary>Today's date in the program's time zone.</summary>
    public DateOnly Today => DateOf(Now);

    public DateOnly DateOf(DateTimeOffset instant) => DateOnly.FromDateTime(TimeZoneInfo.ConvertTime(instant, Zone).DateTime);

    /// <summary>The instant a local day ends: what was known by then is known "as of" that day.</summary>
    public DateTimeOffset EndOf(DateOnly day)
    {
        var midnight = day.AddDays(1).ToDateTime(TimeOnly.MinValue);
        return new DateTimeOffset(midnight, Zone.GetUtcOffset(midnight)).ToUniversalTime();
    }
}
