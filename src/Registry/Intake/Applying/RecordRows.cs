using Npgsql;
using Registry.Facts;
using Registry.Matching;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.Applying;

/// <summary>What rows add and close: in memory, where the rows that follow find it, and written at the end, all at once.</summary>
internal sealed class RecordRows(KnownInfants known, RecordedFacts recorded)
{
    private readonly WriteFacts _write = new();

    /// <summary>Infants of whom something was recorded, closed or attached: rows that wait for one of them may fit now.</summary>
    public HashSet<Guid> Touched { get; } = [];

    /// <summary>The row at hand leans on details.</summary>
    public bool Leans { get; set; }

    public Task WriteAsync(NpgsqlConnection connection, CancellationToken ct) => _write.RunAsync(connection, ct);

    /// <summary>An infant nobody reported before, with its birth.</summary>
    public AppliedRow NewInfant(RowToApply row, in StatedIdentity stated)
    {
        var infantId = known.Create(stated.Identity);
        _write.AddInfant(infantId, row.RecordedAt);
        Attach(infantId, row, stated);
        Add(infantId, row, row.Row.Fact);
        return AppliedRow.Accepted(infantId);
    }

    /// <summary>A fact that stands beside those recorded.</summary>
    public void Add(Guid infantId, RowToApply row, ReportedFact fact) =>
        Record(infantId, row.Row.BirthSiteId ?? row.SiteId.Value, row, WithDefaults(fact));

    /// <summary>The birth site stays the birth site, whoever completes the record; any other fact is the reporter's.</summary>
    public void Replace(RecordedFact old, RowToApply row, ReportedFact fact)
    {
        Close(old, row);
        Record(old.InfantId, fact is ReportedBirth ? old.SiteId : row.SiteId.Value, row, fact);
        if (fact is ReportedBirth birth) known.Restate(old.InfantId, IdentityOf(birth));
    }

    /// <summary>The fact holds no more; it stays readable.</summary>
    public void Close(RecordedFact fact, RowToApply row)
    {
        recorded.Close(fact, row.Row.Action);
        _write.Close(fact, row.Provenance);
        Touched.Add(fact.InfantId);
    }

    /// <summary>Nothing is known of who the infant is: its birth was closed.</summary>
    public void ForgetBirth(Guid infantId) => known.Restate(infantId, default);

    /// <summary>A birth the infant did not have, or another birth date.</summary>
    public void BirthIsKnown(Guid infantId, ReportedBirth birth) => known.Restate(infantId, IdentityOf(birth));

    /// <summary>The row's identifiers become the infant's; one of another infant stays where it is.</summary>
    /// <returns>Whether any was new.</returns>
    public bool Attach(Guid infantId, RowToApply row, in StatedIdentity stated)
    {
        var (number, card) = known.Attach(infantId, stated, Leans);
        if (number is not null) _write.AddIdentifier(IdentifierKind.RecordNumber, number, infantId, row.Provenance);
        if (card is not null) _write.AddIdentifier(IdentifierKind.CardId, card, infantId, row.Provenance);
        if (number is null && card is null) return false;
        Touched.Add(infantId);
        return true;
    }

    /// <summary>A row that says nothing new: it is accepted where one of its identifiers is.</summary>
    public AppliedRow SaidAlready(Guid infantId, RowToApply row, in StatedIdentity stated) =>
        Attach(infantId, row, stated) ? AppliedRow.Accepted(infantId) : AppliedRow.Unchanged(infantId);

    /// <summary>A birth stated on its own, with what holds when nothing is said of it.</summary>
    public static ReportedFact WithDefaults(ReportedFact fact) =>
        fact is ReportedBirth b ? b with { Place = b.Place ?? BirthPlace.Hospital, EmailConsent = b.EmailConsent ?? false } : fact;

    private void Record(Guid infantId, Guid siteId, RowToApply row, ReportedFact fact)
    {
        var added = new RecordedFact
        {
            Id = Guid.CreateVersion7(),
            InfantId = infantId,
            SiteId = siteId,
            SaidBy = row.SiteId.Value,
            Fact = fact,
            RecordedAt = row.RecordedAt,
            SubmissionId = row.SubmissionId,
            RowNumber = row.RowNumber,
        };
        recorded.Add(added);
        _write.Add(added);
        Touched.Add(infantId);
    }

    private static Identity IdentityOf(ReportedBirth b) => new(
        b.BornOn, NormaliseName.Of(b.MotherFamilyName), NormaliseName.Of(b.MotherGivenName), b.MotherBornOn, b.Sex, b.Plurality,
        b.BirthOrder);
}
