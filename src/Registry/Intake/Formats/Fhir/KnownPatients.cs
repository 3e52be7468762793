using Npgsql;
using Registry.Access;
using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Intake.Formats.Fhir;

/// <summary>What the registry knows of an infant it gave an id: as a row would state it.</summary>
public sealed record KnownPatient(IReadOnlyList<(Field Field, string Value)> Who, DateOnly BornOn);

/// <summary>The infants a sender names by the registry's ids: those its site may see, and no others.</summary>
public sealed class KnownPatients(NpgsqlDataSource source, SiteId site)
{
    private static readonly string Sql =
        $"""
         select b.infant_id, b.born_on, b.sex, b.birth_order, b.mother_given_name, b.mother_family_name, b.mother_born_on,
                (select value from infant_identifiers i where i.infant_id = b.infant_id and i.kind = 'record_number'
                    and i.site_id = @viewer_site and i.superseded_at is null order by i.id limit 1),
                (select value from infant_identifiers i where i.infant_id = b.infant_id and i.kind = 'card_id' and i.superseded_at is null order by i.id limit 1)
           from births b where b.infant_id = any(@ids) and b.superseded_at is null and {Visibility.Where("b.infant_id")}
         """;

    public async Task<IReadOnlyDictionary<Guid, KnownPatient>> LoadAsync(IReadOnlyCollection<Guid> ids, CancellationToken ct)
    {
        var known = new Dictionary<Guid, KnownPatient>();
        if (ids.Count == 0) return known;
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddWithValue("ids", ids.ToArray());
        Visibility.Bind(command, new Viewer(null, null, null, site, ""));
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            var who = new List<(Field, string)>();
            Add(Field.BirthDate, 1);
            Add(Field.Sex, 2);
            Add(Field.BirthOrder, 3);
            Add(Field.MotherGivenName, 4);
            Add(Field.MotherFamilyName, 5);
            Add(Field.MotherBirthDate, 6);
            Add(Field.RecordNumber, 7);
            Add(Field.CardId, 8);
            known[r.GetGuid(0)] = new(who, r.GetFieldValue<DateOnly>(1));

            void Add(Field field, int column)
            {
                if (r.IsDBNull(column)) return;
                who.Add((field, r.GetValue(column) switch
                {
                    DateOnly or DateTime => FhirTime.Iso(r.GetFieldValue<DateOnly>(column)),
                    int number => number.ToString(System.Globalization.CultureInfo.InvariantCulture),
                    var text => (string)text,
                }));
            }
        }

        return known;
    }
}
