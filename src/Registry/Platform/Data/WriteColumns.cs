using Npgsql;
using NpgsqlTypes;
using Registry.Rules.Facts;

namespace Registry.Platform.Data;

/// <summary>Columns of a binary COPY (<see cref="CopyRows"/>): each writes the next one, null when there is no value.</summary>
public static class WriteColumns
{
    public static void Text(this NpgsqlBinaryImporter row, string? value) => row.Reference(value, NpgsqlDbType.Text);
    public static void Texts(this NpgsqlBinaryImporter row, string[]? values)
    {
        if (values is null) row.WriteNull();
        else row.Write(values, NpgsqlDbType.Array | NpgsqlDbType.Text);
    }

    public static void Json(this NpgsqlBinaryImporter row, string? value) => row.Reference(value, NpgsqlDbType.Jsonb);
    public static void Code<T>(this NpgsqlBinaryImporter row, T? value) where T : struct, Enum =>
        row.Text(value is { } v ? Codes.Of(v) : null);
    public static void Code<T>(this NpgsqlBinaryImporter row, T value) where T : struct, Enum => row.Text(Codes.Of(value));
    public static void Id(this NpgsqlBinaryImporter row, Guid? value) => row.Value(value, NpgsqlDbType.Uuid);
    public static void Number(this NpgsqlBinaryImporter row, int? value) => row.Value(value, NpgsqlDbType.Integer);
    public static void Number(this NpgsqlBinaryImporter row, decimal? value) => row.Value(value, NpgsqlDbType.Numeric);
    public static void Number(this NpgsqlBinaryImporter row, double? value) => row.Value(value, NpgsqlDbType.Double);
    public static void LocalTime(this NpgsqlBinaryImporter row, DateTime value) => row.Write(value, NpgsqlDbType.Timestamp);
    public static void Bool(this NpgsqlBinaryImporter row, bool? value) => row.Value(value, NpgsqlDbType.Boolean);
    public static void Date(this NpgsqlBinaryImporter row, DateOnly? value) => row.Value(value, NpgsqlDbType.Date);
    public static void Time(this NpgsqlBinaryImporter row, TimeOnly? value) => row.Value(value, NpgsqlDbType.Time);
    public static void Moment(this NpgsqlBinaryImporter row, DateTimeOffset? value) =>
        row.Value(value?.ToUniversalTime(), NpgsqlDbType.TimestampTz);

    private static void Value<T>(this NpgsqlBinaryImporter row, T? value, NpgsqlDbType type) where T : struct
    {
        if (value is { } v) row.Write(v, type);
        else row.WriteNull();
    }

    private static void Reference(this NpgsqlBinaryImporter row, string? value, NpgsqlDbType type)
    {
        if (value is null) row.WriteNull();
        else row.Write(value, type);
    }
}
