using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Searching;

/// <summary>A telephone or e-mail address by which a family may be reached.</summary>
/// <param name="Records">In how many records it stands, of those the viewer sees.</param>
/// <param name="IsShared">In so many that it is nobody's own.</param>
/// <param name="Of">Whose it is said to be, this infant's family first, then the latest; of one that many share only this family's.</param>
public sealed record ContactWay(string Number, bool IsPhone, int Records, bool IsShared, IReadOnlyList<WhoseWay> Of);

/// <summary>Whose a telephone or address is, as somebody reported it.</summary>
/// <param name="Name">As stated; null where nobody named them.</param>
/// <param name="OfAnother">The infant in whose record it stands; null: this one's.</param>
/// <param name="IsCurrent">Of this infant, and not replaced or taken back since.</param>
public sealed record WhoseWay(
    FamilyRelation Relation, string? Name, LikelyInfant? OfAnother, string Site, DateTimeOffset RecordedAt, bool IsCurrent);

/// <summary>Every telephone and address that was ever reported of an infant's family, and those of records that may be of it: each
/// once.</summary>
internal static class ListWays
{
    private static readonly string SharersSql = EmbeddedSql.Read(typeof(ListWays), "CountSharers")
        .Replace("{visible}", Visibility.Where("r.infant_id"), StringComparison.Ordinal);

    /// <param name="db">It sees what the viewer may see.</param>
    /// <param name="viewer">Who asks.</param>
    /// <param name="births">Of the infant, those that were replaced too.</param>
    /// <param name="others">Records that may be of the family, each shown to the viewer.</param>
    /// <param name="mostSharers">What more records have is nobody's own.</param>
    /// <param name="ct">Cancels.</param>
    public static async Task<IReadOnlyList<ContactWay>> OfAsync(RegistryDb db, Viewer viewer, IReadOnlyList<BirthRecord> births,
        IReadOnlyDictionary<InfantId, LikelyInfant> others, int mostSharers, CancellationToken ct)
    {
        if (births.Count == 0) return [];
        var (infant, ids) = (births[0].InfantId, others.Keys.ToList());
        var theirs = await db.Births.AsNoTracking().Where(b => ids.Contains(b.InfantId) && b.SupersededAt == null).ToListAsync(ct);
        var said = await db.FamilyContacts.AsNoTracking()
            .Where(f => f.InfantId == infant || (ids.Contains(f.InfantId) && f.SupersededAt == null)).ToListAsync(ct);
        var cited = births.Concat(theirs).Cast<Fact>().Concat(said).Select(f => f.SiteId).Distinct().ToList();
        var sites = await db.Sites.AsNoTracking().Where(s => cited.Contains(s.Id)).ToDictionaryAsync(s => s.Id, s => s.Name, ct);
        var stated = births.Concat(theirs)
            .SelectMany(b => Of(b, Whose(b, FamilyRelation.Mother, $"{b.MotherGivenName} {b.MotherFamilyName}")))
            .Concat(said.SelectMany(f => Of(f, Whose(f, f.Kind, Plain(f.PersonName, "family_contacts.person_name"))))).ToList();
        var sharers = await CountAsync(db, viewer, [.. stated.Select(s => s.Key).Distinct()], mostSharers, ct);
        return [.. stated.GroupBy(s => s.Key).Select(same => Way(same, sharers.GetValueOrDefault(same.Key), mostSharers))
            .OrderBy(w => w.IsShared).ThenByDescending(w => w.Of.Any(o => o.IsCurrent))
            .ThenByDescending(w => w.Of.Any(o => o.OfAnother is null))
            .ThenByDescending(w => w.Of.Max(o => o.RecordedAt))];

        WhoseWay Whose(Fact fact, FamilyRelation relation, string? name) => new(
            relation, string.IsNullOrWhiteSpace(name) ? null : name.Trim(), others.GetValueOrDefault(fact.InfantId),
            sites[fact.SiteId], fact.RecordedAt, fact.SupersededAt is null && !others.ContainsKey(fact.InfantId));
    }

    private static ContactWay Way(IEnumerable<Stated> same, int records, int mostSharers)
    {
        var said = same.OrderByDescending(s => s.Whose.OfAnother is null).ThenByDescending(s => s.Whose.RecordedAt).ToList();
        var isShared = records > mostSharers;
        // Said again and again by the same person's sites, it is said once.
        var whose = said.Select(s => s.Whose).Where(w => !isShared || w.OfAnother is null)
            .DistinctBy(w => (w.Relation, w.Name?.ToUpperInvariant(), w.OfAnother?.Id)).ToList();
        if (whose.Count == 0) whose = [said[0].Whose];
        var shown = said.Select(s => s.Whose.OfAnother?.Id).Distinct().Count();
        return new(said[0].Number, said[0].IsPhone, Math.Max(records, shown), isShared, whose);
    }

    private sealed record Stated(string Key, string Number, bool IsPhone, WhoseWay Whose);

    private static IEnumerable<Stated> Of(BirthRecord birth, WhoseWay whose) =>
        Each(whose, Plain(birth.ContactPhone, "births.contact_phone"), null, Plain(birth.ContactEmail, "births.contact_email"));

    private static IEnumerable<Stated> Of(FamilyContactRecord said, WhoseWay whose) =>
        Each(whose, Plain(said.ContactPhone, "family_contacts.contact_phone"), Plain(said.OtherPhone, "family_contacts.other_phone"),
            Plain(said.ContactEmail, "family_contacts.contact_email"));

    private static IEnumerable<Stated> Each(WhoseWay whose, string? phone, string? otherPhone, string? email)
    {
        foreach (var number in new[] { phone, otherPhone })
            if (FieldKeys.OfProcess.KeyOfPhone(number) is { } key) yield return new(key, number!, true, whose);
        if (FieldKeys.OfProcess.KeyOfEmail(email) is { } address) yield return new(address, email!, false, whose);
    }

    private static string? Plain(string? stored, string place) => FieldKeys.OfProcess.Decrypt(stored, place);

    private static async Task<IReadOnlyDictionary<string, int>> CountAsync(
        RegistryDb db, Viewer viewer, string[] keys, int mostSharers, CancellationToken ct)
    {
        var counts = new Dictionary<string, int>();
        if (keys.Length == 0) return counts;
        await using var command = new NpgsqlCommand(SharersSql, (NpgsqlConnection)db.Database.GetDbConnection());
        Visibility.Bind(command, viewer);
        command.Parameters.AddWithValue("keys", keys);
        command.Parameters.AddWithValue("most", mostSharers + 1);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) counts[r.GetString(0)] = r.GetInt32(1);
        return counts;
    }
}
