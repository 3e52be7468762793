using System.Text.Json;
using System.Text.Json.Serialization;
using Npgsql;
using Registry.Facts;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Rules;
using Registry.Rules.Facts;
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
        var decided = await TakeOutAsync(connection, infantIds, ct);
        var model = policy.ChanceOfLossDays > 0 ? await ReadLossModel.UsedAsync(connection, ct) : null;
        var traits = model is null ? null : await ReadLossTraits.OfAsync(connection, infantIds, ct);
        var placed = new List<(KnownInfant Infant, InfantStatus Status, WorkPlace Place)>();
        foreach (var (infant, status) in statuses)
        {
            var place = SortWork.Place(infant.Facts, status, policy, asOf, decided.GetValueOrDefault(infant.Id.Value),
                traits?.On(infant.Id.Value, asOf) is { } known ? new(model!, known) : null);
            if (place is not null) placed.Add((infant, status, place));
        }

        if (placed.Count == 0) return;
        await CopyRows.RunAsync(connection,
            "copy infant_work (infant_id, tray, step, due_on, rank, reasons, responsible_site_id, changes_on) from stdin (format binary)",
            placed, Write, ct);
    }

    /// <summary>Removes what was kept, and finds what people decided and did about the infants.</summary>
    private static async Task<Dictionary<Guid, WorkDecisions>> TakeOutAsync(
        NpgsqlConnection connection, Guid[] infants, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(TakeOutSql, connection);
        command.Parameters.AddWithValue("infants", infants);
        var decided = new Dictionary<Guid, WorkDecisions>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) Add(d => d with { PutOff = new(r.Date(1), r.Code<PutOffReason>(2)) });
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct)) Add(d => d with { HandedOff = new(r.Date(1), r.ValueOrNull<DateOnly>(2)) });
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct)) Add(d => d with { Searched = new(r.Date(1), Searched.IsContact(r.Code<SearchResult>(2))) });
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct)) Add(d => d with { Closed = new(r.Code<PathStep>(1), r.Date(2)) });
        return decided;

        void Add(Func<WorkDecisions, WorkDecisions> with) => decided[r.GetGuid(0)] = with(decided.GetValueOrDefault(r.GetGuid(0)));
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
