using System.Text.Json;
using System.Text.Json.Nodes;
using System.Text.Json.Serialization;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Facts;
using Registry.Platform;
using Registry.Platform.Encryption;
using Registry.Records;

namespace Registry.Erasure;

/// <summary>Everything kept of one infant, as one document: for the family that asks, or for another program that takes the infant
/// on.</summary>
public sealed class ExportRecord(ViewerDatabase data, NpgsqlDataSource source, ProgramClock clock, Viewer viewer)
{
    private static readonly JsonSerializerOptions Form = new(JsonSerializerDefaults.Web)
    {
        WriteIndented = true,
        DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
        Converters = { new JsonStringEnumConverter(JsonNamingPolicy.SnakeCaseLower) },
    };

    /// <summary>What is kept beside the facts, one statement for each table.</summary>
    private static readonly string BesideSql = EmbeddedSql.Of<ExportRecord>();

    public async Task<bool> MaySeeAsync(InfantId infant, CancellationToken ct)
    {
        await using var db = await data.OpenDbAsync(viewer, ct);
        return await db.VisibleInfants(viewer).AnyAsync(i => i.Id == infant, ct);
    }

    /// <returns>Null for an infant the viewer may not see.</returns>
    public async Task<byte[]?> AsJsonAsync(InfantId infant, CancellationToken ct) =>
        await DocumentAsync(infant, ct) is { } document ? JsonSerializer.SerializeToUtf8Bytes(document, Form) : null;

    /// <summary>The same, a line for each field: where it is kept, which entry, the field and its value.</summary>
    public async Task<IReadOnlyList<object?[]>?> AsRowsAsync(InfantId infant, CancellationToken ct)
    {
        if (await DocumentAsync(infant, ct) is not { } document) return null;
        var rows = new List<object?[]>();
        foreach (var (part, value) in document)
            foreach (var (entry, at) in (value as JsonArray ?? [value?.DeepClone()]).Select((e, i) => (e, i + 1)))
                Fields(rows, part, at, "", entry);
        return rows;
    }

    private static void Fields(List<object?[]> rows, string part, int entry, string name, JsonNode? value)
    {
        if (value is JsonObject fields)
            foreach (var (field, inner) in fields) Fields(rows, part, entry, name.Length == 0 ? field : $"{name}.{field}", inner);
        else rows.Add([part, entry, name, value is JsonValue v && v.GetValueKind() == JsonValueKind.String ? v.GetValue<string>()
            : value?.ToJsonString()]);
    }

    private async Task<JsonObject?> DocumentAsync(InfantId infant, CancellationToken ct)
    {
        if (!await MaySeeAsync(infant, ct)) return null;
        var document = new JsonObject { ["infant"] = infant.ToString(), ["exported_at"] = clock.Now.ToUniversalTime().ToString("O") };
        await using (var connection = await data.OpenAsync(viewer, ct))
            document["facts"] = new JsonArray([.. (await FactHistory.ReadAsync(connection, infant, clock.Now, ct)).Select(OfFact)]);
        await using var command = source.CreateCommand(BesideSql);
        command.Parameters.AddWithValue("infant", infant.Value);
        await using var reader = await command.ExecuteReaderAsync(ct);
        do
        {
            while (await reader.ReadAsync(ct)) document[reader.GetString(0)] = Opened(JsonNode.Parse(reader.GetString(1)));
        }
        while (await reader.NextResultAsync(ct));
        return document;
    }

    /// <summary>Rows, rows within what was decided about them, and reasons are kept encrypted: the family is given what they say, and not
    /// by what they are found.</summary>
    private static JsonNode? Opened(JsonNode? value)
    {
        if (value is JsonArray entries)
            foreach (var entry in entries) Opened(entry);
        if (value is not JsonObject fields) return value;
        foreach (var hidden in (string[])["content_key", "identifier_keys"]) fields.Remove(hidden);
        foreach (var (name, inner) in fields.ToList())
        {
            if (inner?.GetValueKind() != JsonValueKind.String) Opened(inner);
            else if (name == "content")
                fields[name] = JsonNode.Parse(FieldKeys.OfProcess.Decrypt(inner.GetValue<string>(), SubmissionRow.ContentColumn)!);
            else if (name == "reason")
                fields[name] = FieldKeys.OfProcess.Decrypt(inner.GetValue<string>(), "claim_decisions.reason");
        }

        return value;
    }

    private static JsonNode? OfFact(RecordedFact fact) => JsonSerializer.SerializeToNode(new
    {
        Kind = FactKinds.Of(fact.Fact).Name,
        fact.Id,
        Site = fact.SiteId,
        fact.RecordedAt,
        fact.SupersededAt,
        Submission = fact.SubmissionId == default ? (Guid?)null : fact.SubmissionId.Value,
        Row = fact.SubmissionId == default ? (int?)null : fact.RowNumber,
        Says = JsonSerializer.SerializeToNode(fact.Fact, fact.Fact.GetType(), Form),
    }, Form);
}
