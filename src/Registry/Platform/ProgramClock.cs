using System.ComponentModel.DataAnnotations;
using Microsoft.Extensions.Options;

namespace Registry.Platform;

/// <summary>The program this registry serves: its name on screen and in letters, its time zone.</summary>
public sealed record ProgramOptions
{
    [Required] public string Name { get; init; } = "Infant Hearing Registry";
    [Required] public string Region { get; init; } = "Lindmere";

    /// <summary>The state the program serves, as reports state the state of residence: who lives there is a resident. Empty: not
    /// asked.</summary>
    public string State { get; init; } = "";

    /// <summary>IANA time zone whose calendar day "today" is.</summary>
    [Required] public string TimeZone { get; init; } = "UTC";

    /// <summary>Pins "today" for demonstrations and tests; null in service.</summary>
    public DateOnly? Today { get; init; }

    /// <summary>Telephone number families and staff are told to call.</summary>
    public string Phone { get; init; } = "555-0100";
}

/// <summary>The one place that knows what day it is. Rules and queries take dates as arguments.</summary>
public sealed class ProgramClock(TimeProvider time, IOptions<ProgramOptions> options)
{
    private readonly TimeZoneInfo _zone = TimeZoneInfo.FindSystemTimeZoneById(options.Value.TimeZone);

    /// <summary>The region's time zone.</summary>
    public TimeZoneInfo Zone => _zone;

    public DateTimeOffset Now => options.Value.Today is { } pinned
        ? new DateTimeOffset(pinned.ToDateTime(new TimeOnly(12, 0)), _zone.GetUtcOffset(pinned.ToDateTime(new TimeOnly(12, 0))))
            .ToUniversalTime()
        : time.GetUtcNow();

    /// <summary>Today's date in the program's time zone.</summary>
    public DateOnly Today => DateOf(Now);

    public DateOnly DateOf(DateTimeOffset instant) => DateOnly.FromDateTime(TimeZoneInfo.ConvertTime(instant, _zone).DateTime);

    /// <summary>The instant a local day ends: what was known by then is known "as of" that day.</summary>
    public DateTimeOffset EndOf(DateOnly day)
    {
        var midnight = day.AddDays(1).ToDateTime(TimeOnly.MinValue);
        return new DateTimeOffset(midnight, _zone.GetUtcOffset(midnight)).ToUniversalTime();
    }
}
