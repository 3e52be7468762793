using Registry.Records;
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
/// <remarks>An identifier that does not lead to an infant (<see cref="DecideMatch.LeadsTo"/>) is nowhere else looked at, whoever
/// carries it: neither in the answer nor in what is written does it make a difference that somebody does.</remarks>
public sealed partial class KnownInfants
{
    private sealed class Known(Guid id, Identity identity)
    {
        public Guid Id { get; } = id;
        public Identity Identity { get; set; } = identity;
        public HashSet<(Guid Site, string Card)> Cards { get; } = [];

        /// <summary>Of these, those stated by a row that leans on details.</summary>
        public HashSet<(Guid Site, string Card)> LeaningCards { get; } = [];
        public HashSet<(Guid Site, string Number)> RecordNumbers { get; } = [];
    }

    private readonly Dictionary<Guid, Known> _infants = [];
    private readonly Dictionary<(Guid Site, string Number), Known> _byRecordNumber = [];
    private readonly Dictionary<string, List<Known>> _byCardId = [];
    private readonly Dictionary<(DateOnly Born, string Family), List<Known>> _byFamily = [];
    private readonly Dictionary<(DateOnly Born, DateOnly MotherBorn), List<Known>> _byMotherBirth = [];
    private readonly Dictionary<(Guid Infant, Guid Site), SiteLink> _links = [];

    /// <summary>Ids of the infants that were in the database.</summary>
    public IReadOnlyCollection<Guid> Stored => _infants.Keys;

    /// <summary>What is known of who the infant is; nothing when its birth was retracted.</summary>
    public Identity IdentityOf(Guid infantId) => _infants[infantId].Identity;

    /// <summary>The infant of the row's own record number.</summary>
    public Guid? ByRecordNumber(in StatedIdentity row) => ByNumber(row.SiteId, row.RecordNumber)?.Id;

    public bool Knows(Guid infantId) => _infants.ContainsKey(infantId);

    /// <summary>Which infant a row is about.</summary>
    public MatchDecision Decide(in StatedIdentity row, bool isBirth)
    {
        // Two numbers of one infant: an infant known by either, held when they are two infants. Nothing else is compared.
        if (row.PriorRecordNumber is { } prior)
            return DecideMatch.Decide(row.Identity, false, [.. Candidates(Numbers(row, prior), row)], []);
        var stated = row;
        var carriers = Candidates(Carriers(stated).Where(k => !isBirth || IsFirmly(k, stated)), stated).ToList();
        var leads = carriers.Exists(Leads(row));
        return DecideMatch.Decide(row.Identity, isBirth, carriers, leads ? [] : [.. Candidates(ByDetails(row), row)]);
    }

    /// <summary>The infants that agree with the row in every detail.</summary>
    public IReadOnlyList<Guid> FitFully(in StatedIdentity row)
    {
        var says = row.Identity;
        return [.. ByDetails(row).Where(k => DecideMatch.FitsFully(says, k.Identity)).Select(k => k.Id)];
    }

    /// <summary>The infants one of the stated identifiers leads to, whatever else is stated; only those the site is known to.</summary>
    public IReadOnlyList<Guid> CarriersOf(in StatedIdentity row) =>
        [.. Candidates(Carriers(row), row).Where(c => c.Link == SiteLink.Known).Select(c => c.InfantId).Distinct()];

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
    /// <param name="infantId">The infant.</param>
    /// <param name="row">What the row states.</param>
    /// <param name="leans">Only details say that the row is about this infant: a birth does not give way to it.</param>
    /// <returns>Those that were not attached yet. An identifier that leads to another infant is left where it is.</returns>
    public (string? RecordNumber, string? CardId) Attach(Guid infantId, in StatedIdentity row, bool leans)
    {
        var (infant, site) = (_infants[infantId], row.SiteId.Value);
        _links[(infantId, site)] = SiteLink.Known;
        var record = row.RecordNumber is { } number && _byRecordNumber.TryAdd((site, number), infant) ? number : null;
        if (record is not null) infant.RecordNumbers.Add((site, record));
        if (row.CardId is not { } card || IsTaken(card, infant, row, leans)) return (record, null);
        if (!ListOf(_byCardId, card).Contains(infant)) ListOf(_byCardId, card).Add(infant);
        infant.Cards.Add((site, card));
        if (leans) infant.LeaningCards.Add((site, card));
        return (record, card);
    }

    /// <summary>The infant has the card already, its site gave it to another infant, or it leads there.</summary>
    private bool IsTaken(string card, Known infant, StatedIdentity row, bool leans) =>
        _byCardId.TryGetValue(card, out var carriers)
        && carriers.Exists(c => c.Cards.Contains((row.SiteId.Value, card))
            || ((leans || IsFirmly(c, row)) && (c == infant || Leads(row)(Candidate(c, row)))));

    /// <summary>The infant carries the row's number or card not only because a row that leans on details says so.</summary>
    private static bool IsFirmly(Known infant, in StatedIdentity row)
    {
        var (number, card) = ((row.SiteId.Value, row.RecordNumber!), row.CardId);
        return (row.RecordNumber is not null && infant.RecordNumbers.Contains(number))
            || infant.Cards.Any(c => c.Card == card && !infant.LeaningCards.Contains(c));
    }

    private static Predicate<MatchCandidate> Leads(StatedIdentity row) => c => DecideMatch.LeadsTo(row.Identity, c);

    private bool HasIdentifierOf(in StatedIdentity row) => Candidates(Carriers(row), row).Any(new Func<MatchCandidate, bool>(Leads(row)));

    private Known? ByNumber(SiteId site, string? number) =>
        number is null ? null : _byRecordNumber.GetValueOrDefault((site.Value, number));

    private IEnumerable<Known> Carriers(StatedIdentity row)
    {
        if (ByNumber(row.SiteId, row.RecordNumber) is { } byRecord) yield return byRecord;
        if (row.CardId is null || !_byCardId.TryGetValue(row.CardId, out var byCard)) yield break;
        foreach (var carrier in byCard) yield return carrier;
    }

    private IEnumerable<Known> Numbers(StatedIdentity row, string prior) =>
        new[] { ByNumber(row.SiteId, row.RecordNumber), ByNumber(row.SiteId, prior) }.OfType<Known>();

    private IEnumerable<Known> ByDetails(StatedIdentity row)
    {
        if (row.Identity.BornOn is not { } born) return [];
        IEnumerable<Known> found = [];
        if (row.Identity.MotherFamily is { } family && _byFamily.TryGetValue((born, family), out var sameName)) found = sameName;
        if (row.Identity.MotherBornOn is { } mother && _byMotherBirth.TryGetValue((born, mother), out var sameBirth))
            found = found.Union(sameBirth);
        return found;
    }

    private IEnumerable<MatchCandidate> Candidates(IEnumerable<Known> found, StatedIdentity row) => found.Select(k => Candidate(k, row));

    private MatchCandidate Candidate(Known known, StatedIdentity row) => new(
        known.Id,
        known.Identity,
        (row.CardId is not null && known.Cards.Count > 0 && !known.Cards.Any(c => c.Card == row.CardId))
        || (row.RecordNumber is not null && known.RecordNumbers.Any(r => r.Site == row.SiteId.Value && r.Number != row.RecordNumber)),
        _links.GetValueOrDefault((known.Id, row.SiteId.Value)));

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
            foreach (var (_, card) in infant.Cards) ListOf(_byCardId, card).Remove(infant);
        }
    }

    private static List<Known> ListOf<TKey>(Dictionary<TKey, List<Known>> lists, TKey key) where TKey : notnull =>
        lists.TryGetValue(key, out var list) ? list : lists[key] = [];
}
