using System.Globalization;
using Registry.Platform;

namespace Registry.Infants.Statuses;

/// <summary>Why a past day is not shown.</summary>
internal static class SnapshotWords
{
    public static RequestRefusedException TooEarly(DateOnly earliest) => new(StatusCodes.Status400BadRequest, "That day is too early",
        $"The registry knows of nobody before {earliest.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture)}. "
            + "Ask for that day or a later one.");

    public static RequestRefusedException TooLate() => new(StatusCodes.Status400BadRequest, "That day has not come yet",
        "Ask for today or a day before.");

    public static RequestRefusedException TooManyDays(TimeSpan after) => new(StatusCodes.Status429TooManyRequests,
        "Too many different days were asked for",
        "Each past day that nobody looked at lately is computed from the facts of everyone. Wait a moment, or look at a day you saw "
            + "before.",
        Math.Max(1, (int)Math.Ceiling(after.TotalSeconds)));

    public static RequestRefusedException NoRoom(TimeSpan after) => new(StatusCodes.Status429TooManyRequests,
        "Too many different days are being looked at",
        "There is no room to keep one more until another is no longer looked at. Wait a while, or look at today.",
        Math.Max(1, (int)Math.Ceiling(after.TotalSeconds)));
}
