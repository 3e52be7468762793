using Npgsql;
using Registry.Rules.Facts;

namespace Registry.Platform.Data;

/// <summary>Columns that may be null, and coded ones, read by position.</summary>
public static class ReadColumns
{
    public static string? TextOrNull(this NpgsqlDataReader reader, int column) => reader.IsDBNull(column) ? null : reader.GetString(column);

    /// <summary>A number, date, time, id or boolean that may be null.</summary>
    public static T? ValueOrNull<T>(this NpgsqlDataReader reader, int column) where T : struct =>
        reader.IsDBNull(column) ? null : reader.GetFieldValue<T>(column);

    public static DateOnly Date(this NpgsqlDataReader reader, int column) => reader.GetFieldValue<DateOnly>(column);

    public static DateTimeOffset Moment(this NpgsqlDataReader reader, int column) => reader.GetFieldValue<DateTimeOffset>(column);

    /// <exception cref="FormatException">The column holds no code of <typeparamref name="T"/>.</exception>
    public static T Code<T>(this NpgsqlDataReader reader, int column) where T : struct, Enum => Codes.Parse<T>(reader.GetString(column));

    public static T? CodeOrNull<T>(this NpgsqlDataReader reader, int column) where T : struct, Enum =>
        reader.IsDBNull(column) ? null : reader.Code<T>(column);
}
