using System.Buffers.Text;
using System.Text.Json;

namespace Registry.Ui;

/// <summary>The opaque place in a list to continue after: the last row's sort value and id. Holds no personal data:
/// lists are sorted by dates, codes and site names only.</summary>
public readonly record struct Position(string? Value, Guid Id)
{
    public override string ToString() => Base64Url.EncodeToString(JsonSerializer.SerializeToUtf8Bytes(this));

    /// <summary>Reads a position; null when it is absent or was tampered with (the list then starts anew).</summary>
    public static Position? Parse(string? text)
    {
        if (string.IsNullOrEmpty(text)) return null;
        try
        {
            return JsonSerializer.Deserialize<Position>(Base64Url.DecodeFromChars(text));
        }
        catch (Exception error) when (error is FormatException or JsonException)
        {
            return null;
        }
    }
}
