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

/// <summary>Writes where infants stand in the work of following up, beside their statuses and in the same transaction, and counts them
/// (<see cref="CountWork"/>). Nothing else writes it.</summary>
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
        var was = await TakeOutAsync(connection, infantIds, ct);
        var model = policy.ChanceOfLossDays > 0 ? await ReadLossModel.UsedAsync(connection, ct) : null;
        var traits = model is null ? null : await ReadLossTraits.OfAsync(connection, infantIds, ct);
        var placed = new List<PlacedInfant>();
        foreach (var (infant, status) in statuses)
        {
            var place = SortWork.Place(infant.Facts, status, policy, asOf, was.Decided.GetValueOrDefault(infant.Id.Value),
                traits?.On(infant.Id.Value, asOf) is { } known ? new(model!, known) : null);
            if (place is null) continue;
            var row = new PlacedInfant(infant.Id.Value, place, new(status.ResponsibleSiteId ?? infant.BirthSiteId.Value,
                was.Counties.GetValueOrDefault(infant.Id.Value), Codes.Of(place.Tray), Codes.Of(place.Step)));
            placed.Add(row);
            was.Changes[row.Counted] = was.Changes.GetValueOrDefault(row.Counted) + 1;
        }

        await CountWork.AddAsync(connection, was.Changes, ct);
        await CopyRows.RunAsync(connection,
            "copy infant_work (infant_id, tray, step, due_on, rank, reasons, responsible_site_id, county_key, changes_on) "
                + "from stdin (format binary)",
            placed, Write, ct);
    }

    /// <summary>A row of the work, and what is counted of it.</summary>
    private readonly record struct PlacedInfant(Guid Infant, WorkPlace Place, CountedWork Counted);

    /// <summary>What people decided and did about infants, the counties they are of, and how the counts change when their work is
    /// removed.</summary>
    private sealed record TakenOut(
        Dictionary<Guid, WorkDecisions> Decided, Dictionary<Guid, string> Counties, Dictionary<CountedWork, int> Changes);

    private static async Task<TakenOut> TakeOutAsync(NpgsqlConnection connection, Guid[] infants, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(TakeOutSql, connection);
        command.Parameters.AddWithValue("infants", infants);
        var was = new TakenOut([], [], []);
        var (decided, counties, changes) = was;
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) changes[new(r.GetGuid(0), r.TextOrNull(1), r.GetString(2), r.GetString(3))] = -r.GetInt32(4);
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct)) counties[r.GetGuid(0)] = r.GetString(1);
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct)) Add(d => d with { PutOff = new(r.Date(1), r.Code<PutOffReason>(2)) });
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct)) Add(d => d with { HandedOff = new(r.Date(1), r.ValueOrNull<DateOnly>(2)) });
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct)) Add(d => d with { Searched = new(r.Date(1), Searched.IsContact(r.Code<SearchResult>(2))) });
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct)) Add(d => d with { Closed = new(r.Code<PathStep>(1), r.Date(2)) });
        return was;

        void Add(Func<WorkDecisions, WorkDecisions> with) => decided[r.GetGuid(0)] = with(decided.GetValueOrDefault(r.GetGuid(0)));
    }

    private static void Write(NpgsqlBinaryImporter row, PlacedInfant placed)
    {
        var (infant, place, counted) = placed;
        row.Id(infant);
        row.Text(counted.Tray);
        row.Text(counted.Step);
        row.Date(place.DueOn);
        row.Write(place.Rank, NpgsqlTypes.NpgsqlDbType.Bigint);
        row.Json(JsonSerializer.Serialize(place.Reasons, ReasonJson));
        row.Id(counted.Site);
        row.Text(counted.CountyKey);
        row.Date(place.ChangesOn);
    }
}
