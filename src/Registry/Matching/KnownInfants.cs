using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Matching;

/// <summary>What a row states about who it is.</summary>
public readonly record struct StatedIdentity(SiteId SiteId, string? RecordNumber, string? CardId, Identity Identity)
{
    /// <summary>The site's number for the same infant before: stated by a merge of numbers only.</summary>
    public string? PriorRecordNumber { get; init; }
}

/// <summary>
/// The infants some rows might be about: those the database holds, found by a few set-based queries, and those the rows
/// before have just made. Asked row by row, it answers from memory.
/// </summary>
public sealed class KnownInfants
{
    private static readonly string ByIdentifierSql = EmbeddedSql.Of<KnownInfants>("FindByIdentifier");
    private static readonly string ByMotherSql = EmbeddedSql.Of<KnownInfants>("FindByMother");
    private static readonly string ByIdSql = EmbeddedSql.Of<KnownInfants>("FindById");

    private sealed class Known(Guid id, Identity identity)
    {
        public Guid Id { get; } = id;
        public Identity Identity { get; set; } = identity;
        public HashSet<string> CardIds { get; } = [];
        public HashSet<(Guid Site, string Number)> RecordNumbers { get; } = [];
    }

    private readonly Dictionary<Guid, Known> _infants = [];
    private readonly Dictionary<(Guid Site, string Number), Known> _byRecordNumber = [];
    private readonly Dictionary<string, Known> _byCardId = [];
    private readonly Dictionary<(DateOnly Born, string Family), List<Known>> _byFamily = [];
    private readonly Dictionary<(DateOnly Born, DateOnly MotherBorn), List<Known>> _byMotherBirth = [];

    /// <summary>Ids of the infants that were in the database.</summary>
    public IReadOnlyCollection<Guid> Stored => _infants.Keys;

    /// <summary>What is known of who the infant is; nothing when its birth was retracted.</summary>
    public Identity IdentityOf(Guid infantId) => _infants[infantId].Identity;

    /// <summary>The infant of the row's own record number.</summary>
    public Guid? ByRecordNumber(in StatedIdentity row) =>
        FindByIdentifiers(row).ByRecord?.Id;

    public bool Knows(Guid infantId) => _infants.ContainsKey(infantId);

    /// <summary>Loads every infant that one of the rows might be about, in the caller's transaction.</summary>
    /// <param name="connection">The transaction's.</param>
    /// <param name="rows">What the rows state.</param>
    /// <param name="chosen">Infants a person chose.</param>
    /// <param name="ct">Cancels.</param>
    /// <param name="seen">Of some infants those that may be known of; null: all. The others are as if they did not exist.</param>
    public static async Task<KnownInfants> LoadAsync(
        NpgsqlConnection connection, IReadOnlyCollection<StatedIdentity> rows, IReadOnlyCollection<Guid> chosen, CancellationToken ct,
        Func<IReadOnlyCollection<Guid>, Task<IReadOnlySet<Guid>>>? seen = null)
    {
        var known = new KnownInfants();
        await known.ReadByIdentifierAsync(connection, rows, ct);
        if (chosen.Count > 0) await known.ReadAsync(connection, ByIdSql, ct, chosen.ToArray());
        if (seen is not null) known.Keep(await seen(known.Stored));
        if (await known.ReadByMotherAsync(connection, rows, ct) && seen is not null) known.Keep(await seen(known.Stored));
        return known;
    }

    private async Task ReadByIdentifierAsync(NpgsqlConnection connection, IReadOnlyCollection<StatedIdentity> rows, CancellationToken ct)
    {
        var numbers = rows.Where(r => r.RecordNumber is not null).Select(r => (r.SiteId.Value, Number: r.RecordNumber!))
            .Concat(rows.Where(r => r.PriorRecordNumber is not null).Select(r => (r.SiteId.Value, Number: r.PriorRecordNumber!)))
            .Distinct().ToList();
        var cards = rows.Where(r => r.CardId is not null).Select(r => r.CardId!).Distinct().ToArray();
        if (numbers.Count + cards.Length == 0) return;
        await ReadAsync(connection, ByIdentifierSql, ct,
            numbers.Select(r => r.Value).ToArray(), numbers.Select(r => r.Number).ToArray(), cards);
    }

    /// <summary>Only rows whose identifiers led nowhere are compared by birth date and mother.</summary>
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

    /// <summary>Which infant a row is about.</summary>
    public MatchDecision Decide(in StatedIdentity row, bool isBirth)
    {
        var (byRecord, byCard) = FindByIdentifiers(row);
        if (row.PriorRecordNumber is { } prior)
        {
            // Two numbers of one infant: an infant known by either, held when they are two infants. Nothing else is compared.
            var byPrior = _byRecordNumber.GetValueOrDefault((row.SiteId.Value, prior));
            return DecideMatch.Decide(row.Identity, false, Candidate(byRecord, row), Candidate(byPrior, row), []);
        }

        if (byRecord is not null || byCard is not null)
            return DecideMatch.Decide(row.Identity, isBirth, Candidate(byRecord, row), Candidate(byCard, row), []);
        return DecideMatch.Decide(row.Identity, isBirth, null, null, CandidatesFor(row));
    }

    /// <summary>The infants that carry one of the stated identifiers, whatever else is stated.</summary>
    public IReadOnlyList<Guid> CarriersOf(in StatedIdentity row)
    {
        var (byRecord, byCard) = FindByIdentifiers(row);
        return [.. new[] { byRecord?.Id, byCard?.Id }.OfType<Guid>().Distinct()];
    }

    /// <summary>A new infant, found by the rows that follow.</summary>
    public Guid Create(in Identity identity)
    {
        var infant = new Known(Guid.CreateVersion7(), identity);
        Index(infant);
        return infant.Id;
    }

    /// <summary>What is known about an infant after a birth row restated it.</summary>
    public void Restate(Guid infantId, in Identity identity)
    {
        var infant = _infants[infantId];
        if (infant.Identity == identity) return;
        Unindex(infant);
        infant.Identity = identity;
        Index(infant);
    }

    /// <summary>Attaches a row's identifiers to its infant.</summary>
    /// <returns>Those that were not attached yet. An identifier of another infant is left where it is.</returns>
    public (string? RecordNumber, string? CardId) Attach(Guid infantId, in StatedIdentity row)
    {
        var infant = _infants[infantId];
        var record = row.RecordNumber is { } number && _byRecordNumber.TryAdd((row.SiteId.Value, number), infant) ? number : null;
        if (record is not null) infant.RecordNumbers.Add((row.SiteId.Value, record));
        var card = row.CardId is { } id && _byCardId.TryAdd(id, infant) ? id : null;
        if (card is not null) infant.CardIds.Add(card);
        return (record, card);
    }

    private bool HasIdentifierOf(in StatedIdentity row) => FindByIdentifiers(row) is not (null, null);

    private (Known? ByRecord, Known? ByCard) FindByIdentifiers(in StatedIdentity row) => (
        row.RecordNumber is { } number ? _byRecordNumber.GetValueOrDefault((row.SiteId.Value, number)) : null,
        row.CardId is { } card ? _byCardId.GetValueOrDefault(card) : null);

    private List<MatchCandidate> CandidatesFor(StatedIdentity row)
    {
        if (row.Identity.BornOn is not { } born) return [];
        IEnumerable<Known> found = [];
        if (row.Identity.MotherFamily is { } family && _byFamily.TryGetValue((born, family), out var sameName)) found = sameName;
        if (row.Identity.MotherBornOn is { } mother && _byMotherBirth.TryGetValue((born, mother), out var sameBirth))
            found = found.Union(sameBirth);
        return [.. found.Select(k => Candidate(k, row)!.Value)];
    }

    private static MatchCandidate? Candidate(Known? known, StatedIdentity row) => known is null ? null : new MatchCandidate(
        known.Id,
        known.Identity,
        (row.CardId is not null && known.CardIds.Count > 0 && !known.CardIds.Contains(row.CardId))
        || (row.RecordNumber is not null && known.RecordNumbers.Any(r => r.Site == row.SiteId.Value && r.Number != row.RecordNumber)));

    private void Index(Known infant)
    {
        _infants[infant.Id] = infant;
        if (infant.Identity.BornOn is not { } born) return;
        if (infant.Identity.MotherFamily is { } family) ListOf(_byFamily, (born, family)).Add(infant);
        if (infant.Identity.MotherBornOn is { } mother) ListOf(_byMotherBirth, (born, mother)).Add(infant);
    }

    private void Unindex(Known infant)
    {
        if (infant.Identity.BornOn is not { } born) return;
        if (infant.Identity.MotherFamily is { } family) ListOf(_byFamily, (born, family)).Remove(infant);
        if (infant.Identity.MotherBornOn is { } mother) ListOf(_byMotherBirth, (born, mother)).Remove(infant);
    }

    /// <summary>Forgets all other infants.</summary>
    private void Keep(IReadOnlySet<Guid> seen)
    {
        foreach (var infant in _infants.Values.Where(i => !seen.Contains(i.Id)).ToList())
        {
            Unindex(infant);
            _infants.Remove(infant.Id);
            foreach (var number in infant.RecordNumbers) _byRecordNumber.Remove(number);
            foreach (var card in infant.CardIds) _byCardId.Remove(card);
        }
    }

    private static List<Known> ListOf<TKey>(Dictionary<TKey, List<Known>> lists, TKey key) where TKey : notnull =>
        lists.TryGetValue(key, out var list) ? list : lists[key] = [];

    private async Task ReadAsync(NpgsqlConnection connection, string sql, CancellationToken ct, params object[] arrays)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        foreach (var array in arrays) command.Parameters.Add(new NpgsqlParameter { Value = array });
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct))
        {
            var id = reader.GetGuid(0);
            if (_infants.ContainsKey(id)) continue;
            var infant = new Known(id, ReadIdentity(reader));
            Index(infant);
            ReadIdentifiers(reader, infant);
        }
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
        for (var i = 0; i < kinds.Length; i++)
        {
            if (Codes.Parse<IdentifierKind>(kinds[i]) == IdentifierKind.CardId)
            {
                infant.CardIds.Add(values[i]);
                _byCardId[values[i]] = infant;
            }
            else
            {
                infant.RecordNumbers.Add((sites[i], values[i]));
                _byRecordNumber[(sites[i], values[i])] = infant;
            }
        }
    }
}
