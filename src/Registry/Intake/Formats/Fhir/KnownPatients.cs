using Npgsql;
using Registry.Access;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.Formats.Fhir;

/// <summary>What the registry knows of an infant it gave an id: as a row would state it.</summary>
public sealed record KnownPatient(IReadOnlyList<(Field Field, string Value)> Who, DateOnly BornOn);

/// <summary>The infants a sender names by the registry's ids: those its site may see, and no others.</summary>
public sealed class KnownPatients(NpgsqlDataSource source, SiteId site)
{
    private static readonly string Sql = EmbeddedSql.Of<KnownPatients>()
        .Replace("{visible}", Visibility.Where("b.infant_id"), StringComparison.Ordinal);

    private static readonly (Field Field, int Column)[] Texts =
    [
        (Field.Sex, 2), (Field.BirthOrder, 3), (Field.MotherGivenName, 4), (Field.MotherFamilyName, 5), (Field.RecordNumber, 7),
        (Field.CardId, 8),
    ];

    public async Task<IReadOnlyDictionary<Guid, KnownPatient>> LoadAsync(IReadOnlyCollection<Guid> ids, CancellationToken ct)
    {
        var known = new Dictionary<Guid, KnownPatient>();
        if (ids.Count == 0) return known;
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddWithValue("ids", ids.ToArray());
        Visibility.Bind(command, new Viewer(null, null, null, site, ""));
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
            known[r.GetGuid(0)] = new([.. Who(r)], r.Date(1));
        return known;
    }

    private static IEnumerable<(Field Field, string Value)> Who(NpgsqlDataReader r)
    {
        yield return (Field.BirthDate, FhirTime.Iso(r.Date(1)));
        foreach (var (field, column) in Texts)
            if (r.TextOrNull(column) is { } text) yield return (field, text);
        if (r.ValueOrNull<DateOnly>(6) is { } born) yield return (Field.MotherBirthDate, FhirTime.Iso(born));
    }
}
