using System.Buffers.Text;
using System.Globalization;
using System.Text.Json;

namespace Registry.Platform.Data;

/// <summary>
/// The opaque place in a list to continue after: what the last row shown is sorted by. Holds no personal data: lists are sorted by moments,
/// dates, codes, numbers and ids only.
/// </summary>
public static class ListPosition
{
    /// <summary>The position of a row with these sort values.</summary>
    public static string Of(params ReadOnlySpan<string?> values) =>
        Base64Url.EncodeToString(JsonSerializer.SerializeToUtf8Bytes(values.ToArray()));

    /// <summary>A moment as a sort value; <see cref="Moment(string?)"/> reads it back.</summary>
    public static string Moment(DateTimeOffset at) => at.UtcTicks.ToString(CultureInfo.InvariantCulture);

    /// <returns>The sort values as text, or null when there are not <paramref name="count"/> of them: none of our positions.</returns>
    public static string?[]? Read(string? position, int count)
    {
        if (string.IsNullOrEmpty(position)) return null;
        try
        {
            return JsonSerializer.Deserialize<string?[]>(Base64Url.DecodeFromChars(position)) is { } parts && parts.Length == count
                ? parts : null;
        }
        catch (Exception error) when (error is FormatException or JsonException)
        {
            return null;
        }
    }

    public static DateTimeOffset? Moment(string? part) =>
        long.TryParse(part, NumberStyles.None, CultureInfo.InvariantCulture, out var ticks) && ticks <= DateTime.MaxValue.Ticks
            ? new(ticks, TimeSpan.Zero) : null;
}
