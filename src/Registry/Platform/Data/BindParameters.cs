using Npgsql;
using NpgsqlTypes;
using Registry.Rules.Facts;

namespace Registry.Platform.Data;

/// <summary>Parameters that may be null, which need their type stated. Without a name they are numbered in the order they are
/// added.</summary>
public static class BindParameters
{
    public static void AddNullable(this NpgsqlParameterCollection parameters, object? value, NpgsqlDbType type) =>
        parameters.Add(new() { Value = value ?? DBNull.Value, NpgsqlDbType = type });

    public static void AddNullable(this NpgsqlParameterCollection parameters, string name, object? value, NpgsqlDbType type) =>
        parameters.Add(new(name, type) { Value = value ?? DBNull.Value });

    /// <summary>The code of a value, as text.</summary>
    public static void AddCode<T>(this NpgsqlParameterCollection parameters, T? value) where T : struct, Enum =>
        parameters.AddNullable(value is { } v ? Codes.Of(v) : null, NpgsqlDbType.Text);

    public static void AddCode<T>(this NpgsqlParameterCollection parameters, string name, T? value) where T : struct, Enum =>
        parameters.AddNullable(name, value is { } v ? Codes.Of(v) : null, NpgsqlDbType.Text);
}
