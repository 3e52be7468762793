using System.Text.Json;
using System.Text.Json.Serialization;
using Npgsql;
using Registry.Facts;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Rules;
using Registry.Rules.Work;

namespace Registry.Infants.Statuses;

/// <summary>Writes where infants stand in the work of following up, beside their statuses and in the same transaction.</summary>
public static class StoreWork
{
    public static readonly JsonSerializerOptions ReasonJson = new(JsonSerializerDefaults.Web)
    {
        Converters = { new JsonStringEnumConverter(JsonNamingPolicy.SnakeCaseLower) },
    };

    private static readonly string TakeOutSql = EmbeddedSql.Read(typeof(StoreWork), nameof(StoreWork));

    /// <summary>Replaces the work of <paramref name="infantIds"/>, on the caller's connection and in its transaction.</summary>
    public static async Task ReplaceAsync(
        NpgsqlConnection connection, Guid[] infantIds, IEnumerable<(KnownInfant Infant, InfantStatus Status)> statuses, Policy policy,
        DateOnly asOf, CancellationToken ct)
    {
        var (putOff, handedOff) = await TakeOutAsync(connection, infantIds, ct);
        var model = policy.ChanceOfLossDays > 0 ? await ReadLossModel.UsedAsync(connection, ct) : null;
        var traits = model is null ? null : await ReadLossTraits.OfAsync(connection, infantIds, ct);
        var placed = new List<(KnownInfant Infant, InfantStatus Status, WorkPlace Place)>();
        foreach (var (infant, status) in statuses)
        {
            var place = SortWork.Place(infant.Facts, status, policy, asOf, putOff.TryGetValue(infant.Id.Value, out var p) ? p : null,
                handedOff.TryGetValue(infant.Id.Value, out var h) ? h : null,
                traits?.On(infant.Id.Value, asOf) is { } known ? new(model!, known) : null);
            if (place is not null) placed.Add((infant, status, place));
        }

        if (placed.Count == 0) return;
        await CopyRows.RunAsync(connection,
            "copy infant_work (infant_id, tray, step, due_on, rank, reasons, responsible_site_id, changes_on) from stdin (format binary)",
            placed, Write, ct);
    }

    /// <summary>Removes what was kept, and finds who was put off and handed off.</summary>
    private static async Task<(Dictionary<Guid, PutOff>, Dictionary<Guid, HandedOff>)> TakeOutAsync(
        NpgsqlConnection connection, Guid[] infants, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(TakeOutSql, connection);
        command.Parameters.AddWithValue("infants", infants);
        var (putOff, handedOff) = (new Dictionary<Guid, PutOff>(), new Dictionary<Guid, HandedOff>());
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) putOff[r.GetGuid(0)] = new(r.Date(1), r.Code<PutOffReason>(2));
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct)) handedOff[r.GetGuid(0)] = new(r.Date(1), r.ValueOrNull<DateOnly>(2));
        return (putOff, handedOff);
    }

    private static void Write(NpgsqlBinaryImporter row, (KnownInfant Infant, InfantStatus Status, WorkPlace Place) placed)
    {
        var (infant, status, place) = placed;
        row.Id(infant.Id.Value);
        row.Code(place.Tray);
        row.Code(place.Step);
        row.Date(place.DueOn);
        row.Write(place.Rank, NpgsqlTypes.NpgsqlDbType.Bigint);
        row.Json(JsonSerializer.Serialize(place.Reasons, ReasonJson));
        row.Id(status.ResponsibleSiteId ?? infant.BirthSiteId.Value);
        row.Date(place.ChangesOn);
    }
}
