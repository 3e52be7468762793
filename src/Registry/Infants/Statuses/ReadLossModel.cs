using System.Text.Json;
using System.Text.Json.Serialization;
using Npgsql;
using Registry.Rules.Chance;

namespace Registry.Infants.Statuses;

/// <summary>The chance of loss that is used: the latest that was fitted, while it comes true.</summary>
public static class ReadLossModel
{
    public static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web)
    {
        Converters = { new JsonStringEnumConverter(JsonNamingPolicy.SnakeCaseLower) },
    };

    /// <returns>Null where none was fitted, or the latest does not come true.</returns>
    public static async Task<LossModel?> UsedAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(
            "select case when holds then document::text end from loss_histories order by version desc limit 1", connection);
        return await command.ExecuteScalarAsync(ct) is string document ? JsonSerializer.Deserialize<LossModel>(document, Json) : null;
    }
}
