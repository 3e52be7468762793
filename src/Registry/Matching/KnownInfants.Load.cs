using Npgsql;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Matching;

/// <summary>From the database: a few set-based queries for any number of rows.</summary>
public sealed partial class KnownInfants
{
    private static readonly string ByIdentifierSql = EmbeddedSql.Of<KnownInfants>("FindByIdentifier")
        .Replace("{known}", SiteLinks.Known("i.infant_id", "s.site_id"), StringComparison.Ordinal);
    private static readonly string ByMotherSql = EmbeddedSql.Of<KnownInfants>("FindByMother");
    private static readonly string ByIdSql = EmbeddedSql.Of<KnownInfants>("FindById");
    private static readonly string LinksSql =
        $"""
        select p.infant_id, p.site_id, {SiteLinks.Of("p.infant_id", "p.site_id", "$3")}
          from unnest($1::uuid[], $2::uuid[]) as p (infant_id, site_id)
        """;

    /// <summary>Loads every infant that one of the rows might be about, in the caller's transaction.</summary>
    /// <param name="connection">The transaction's.</param>
    /// <param name="rows">What the rows state.</param>
    /// <param name="chosen">Infants a person chose.</param>
    /// <param name="today">The day agreements are asked for.</param>
    /// <param name="ct">Cancels.</param>
    /// <param name="seen">Of some infants those that may be known of; null: all. The others are as if they did not exist.</param>
    public static async Task<KnownInfants> LoadAsync(
        NpgsqlConnection connection, IReadOnlyCollection<StatedIdentity> rows, IReadOnlyCollection<Guid> chosen, DateOnly today,
        CancellationToken ct, Func<IReadOnlyCollection<Guid>, Task<IReadOnlySet<Guid>>>? seen = null)
    {
        var known = new KnownInfants();
        await known.ReadByIdentifierAsync(connection, rows, false, ct);
        if (chosen.Count > 0) await known.ReadAsync(connection, ByIdSql, ct, chosen.ToArray());
        if (seen is not null) known.Keep(await seen(known.Stored));
        if (await known.ReadByMotherAsync(connection, rows, ct) && seen is not null) known.Keep(await seen(known.Stored));
        await known.ReadLinksAsync(connection, rows, today, ct);
        return known;
    }

    /// <summary>Everybody who carries a stated identifier, or whom the stated details might mean, for a person to choose from: whether
    /// the identifiers lead there or not.</summary>
    public static async Task<IReadOnlyCollection<Guid>> FindAsync(NpgsqlConnection connection, StatedIdentity row, CancellationToken ct)
    {
        var known = new KnownInfants();
        await known.ReadByIdentifierAsync(connection, [row], true, ct);
        await known.ReadByMotherAsync(connection, [row with { RecordNumber = null, CardId = null, PriorRecordNumber = null }], ct);
        return known.Stored;
    }

    private async Task ReadByIdentifierAsync(
        NpgsqlConnection connection, IReadOnlyCollection<StatedIdentity> rows, bool whether, CancellationToken ct)
    {
        var stated = rows.SelectMany(NumbersAndCards).Distinct().ToList();
        if (stated.Count == 0) return;
        await using var command = new NpgsqlCommand(ByIdentifierSql, connection);
        foreach (var array in (object[])
        [
            stated.ConvertAll(s => s.Site), stated.ConvertAll(s => s.Number), stated.ConvertAll(s => s.Card),
            stated.ConvertAll(s => s.Who.BornOn), stated.ConvertAll(s => s.Who.MotherFamily), stated.ConvertAll(s => s.Who.MotherBornOn),
            whether,
        ]) command.Parameters.Add(new NpgsqlParameter { Value = array });
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct))
        {
            Read(reader);
            foreach (var site in reader.GetFieldValue<Guid[]>(12)) _links[(reader.GetGuid(0), site)] = SiteLink.Known;
        }
    }

    private static IEnumerable<(Guid Site, string? Number, string? Card, Identity Who)> NumbersAndCards(StatedIdentity row)
    {
        var says = row.Identity;
        var who = new Identity { BornOn = says.BornOn, MotherFamily = says.MotherFamily, MotherBornOn = says.MotherBornOn };
        if (row.RecordNumber is not null || row.CardId is not null) yield return (row.SiteId.Value, row.RecordNumber, row.CardId, who);
        if (row.PriorRecordNumber is { } prior) yield return (row.SiteId.Value, prior, null, who);
    }

    /// <summary>Only rows whose identifiers lead nowhere are compared by birth date and mother.</summary>
    /// <returns>False when there is none.</returns>
    private async Task<bool> ReadByMotherAsync(
        NpgsqlConnection connection, IReadOnlyCollection<StatedIdentity> rows, CancellationToken ct)
    {
        var mothers = rows.Where(r => r.Identity.BornOn is not null && !HasIdentifierOf(r)).Select(r => r.Identity)
            .Where(i => i.MotherFamily is not null || i.MotherBornOn is not null)
            .Select(i => (Born: i.BornOn!.Value, i.MotherFamily, i.MotherGiven, i.MotherBornOn)).Distinct().ToList();
        if (mothers.Count == 0) return false;
        await ReadAsync(connection, ByMotherSql, ct,
            mothers.Select(m => m.Born).ToArray(), mothers.Select(m => m.MotherFamily).ToArray(),
            mothers.Select(m => m.MotherGiven).ToArray(), mothers.Select(m => m.MotherBornOn).ToArray());
        return true;
    }

    /// <summary>What the sites of the rows have to do with those they might be about, where that is not known yet.</summary>
    private async Task ReadLinksAsync(
        NpgsqlConnection connection, IReadOnlyCollection<StatedIdentity> rows, DateOnly today, CancellationToken ct)
    {
        var pairs = rows.SelectMany(r => Carriers(r).Concat(ByDetails(r)).Select(k => (k.Id, Site: r.SiteId.Value)))
            .Where(p => !_links.ContainsKey(p)).Distinct().ToList();
        if (pairs.Count == 0) return;
        await using var command = new NpgsqlCommand(LinksSql, connection);
        command.Parameters.AddWithValue(pairs.ConvertAll(p => p.Id));
        command.Parameters.AddWithValue(pairs.ConvertAll(p => p.Site));
        command.Parameters.AddWithValue(today);
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) _links[(reader.GetGuid(0), reader.GetGuid(1))] = reader.Code<SiteLink>(2);
    }

    private async Task ReadAsync(NpgsqlConnection connection, string sql, CancellationToken ct, params object[] arrays)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        foreach (var array in arrays) command.Parameters.Add(new NpgsqlParameter { Value = array });
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) Read(reader);
    }

    private void Read(NpgsqlDataReader reader)
    {
        var id = reader.GetGuid(0);
        if (_infants.ContainsKey(id)) return;
        var infant = new Known(id, ReadIdentity(reader));
        Index(infant);
        ReadIdentifiers(reader, infant);
    }

    /// <summary>Nothing of an infant whose birth was retracted.</summary>
    private static Identity ReadIdentity(NpgsqlDataReader reader) => reader.IsDBNull(1) ? default : new(
        reader.Date(1), reader.TextOrNull(2), reader.TextOrNull(3), reader.ValueOrNull<DateOnly>(4), reader.Code<Sex>(5),
        reader.ValueOrNull<int>(6), reader.ValueOrNull<int>(7));

    private void ReadIdentifiers(NpgsqlDataReader reader, Known infant)
    {
        var kinds = reader.GetFieldValue<string[]>(8);
        var values = reader.GetFieldValue<string[]>(9);
        var sites = reader.GetFieldValue<Guid[]>(10);
        var leans = reader.GetFieldValue<bool[]>(11);
        for (var i = 0; i < kinds.Length; i++)
        {
            if (Codes.Parse<IdentifierKind>(kinds[i]) == IdentifierKind.CardId)
            {
                infant.Cards.Add((sites[i], values[i]));
                if (leans[i]) infant.LeaningCards.Add((sites[i], values[i]));
                var carriers = ListOf(_byCardId, values[i]);
                if (!carriers.Contains(infant)) carriers.Add(infant);
            }
            else
            {
                infant.RecordNumbers.Add((sites[i], values[i]));
                _byRecordNumber[(sites[i], values[i])] = infant;
            }
        }
    }
}
