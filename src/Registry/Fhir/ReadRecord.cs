using Hl7.Fhir.Model;
using Npgsql;
using Registry.Access;
using Registry.Facts;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using IssueType = Hl7.Fhir.Model.OperationOutcome.IssueType;

namespace Registry.Fhir;

/// <summary>
/// What is currently recorded of one infant, to whoever may see it; every read is recorded before it is sent. An infant the caller may not
/// see is answered like one that does not exist.
/// </summary>
public sealed class ReadRecord(ViewerDatabase data, ProgramClock clock, AuditReads audit, Viewer viewer)
{
    /// <summary>An infant, and the facts that are resources of their own: their ids begin with the fact's.</summary>
    private static readonly string InfantOfFactSql = string.Join(" union all ", FactKinds.All
        .Where(k => k.Kind != RowKind.Death) // part of the Patient
        .Select(k => $"select infant_id from {k.Table} where id = $1 and superseded_at is null")) + " limit 1";

    /// <summary><c>GET /fhir/Patient/{id}/$everything</c></summary>
    public static async Task<IResult> EverythingAsync(string id, HttpContext http, ReadRecord read, CancellationToken ct)
    {
        if (http.Request.Query.Keys.FirstOrDefault(k => k is not "_format") is { } other)
            return FhirResult.Problem(
                400, IssueType.NotSupported,
                $"the parameter {(other.Length <= 40 ? other : "given")} is not supported: everything is sent at once");
        return InfantId.TryParse(id, null, out var infant) && await read.LoadAsync(infant, http, ct) is { } resources
            ? new FhirResult(200, Searchset(resources, http))
            : NotFound();
    }

    /// <summary><c>GET /fhir/{type}/{id}</c></summary>
    public static async Task<IResult> OneAsync(string id, HttpContext http, ReadRecord read, CancellationToken ct)
    {
        var type = http.Request.Path.Value!.Split('/')[2];
        if (id.Length < 36 || !Guid.TryParse(id.AsSpan(0, 36), out var fact)) return NotFound();
        var infant = type == "Patient" ? new InfantId(fact) : await read.InfantOfAsync(fact, ct);
        if (infant is not { } known || await read.LoadAsync(known, http, ct) is not { } resources) return NotFound();
        return resources.Find(r => r.TypeName == type && r.Id == id) is { } found ? new FhirResult(200, found) : NotFound();
    }

    private static FhirResult NotFound() => FhirResult.Problem(404, IssueType.NotFound, "there is no such resource");

    /// <summary>The base of every address we give out.</summary>
    public static string BaseOf(HttpContext http) => $"{http.Request.Scheme}://{http.Request.Host}/fhir";

    private static Bundle Searchset(List<Resource> resources, HttpContext http) => new()
    {
        Type = Bundle.BundleType.Searchset,
        Total = resources.Count,
        Link = [new() { Relation = "self", Url = $"{BaseOf(http)}/{resources[0].TypeName}/{resources[0].Id}/$everything" }],
        Entry =
        [
            .. resources.Select((r, i) => new Bundle.EntryComponent
            {
                FullUrl = $"{BaseOf(http)}/{r.TypeName}/{r.Id}",
                Resource = r,
                Search = new() { Mode = i == 0 ? Bundle.SearchEntryMode.Match : Bundle.SearchEntryMode.Include },
            }),
        ],
    };

    private async Task<InfantId?> InfantOfAsync(Guid fact, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = new NpgsqlCommand(InfantOfFactSql, connection);
        command.Parameters.AddWithValue(fact);
        return await command.ExecuteScalarAsync(ct) is Guid id ? new InfantId(id) : null;
    }

    /// <summary>The resources of an infant, its Patient first; null when the viewer may not see it or its birth is not on record.</summary>
    private async Task<List<Resource>?> LoadAsync(InfantId infant, HttpContext http, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        if (!await MaySeeAsync(connection, infant, ct)) return null;
        var facts = (await RecordedFacts.LoadAsync(connection, [infant.Value], Enum.GetValues<RowKind>().ToHashSet(), ct)).Of(infant.Value);
        if (!facts.Any(f => f.Fact is ReportedBirth)) return null;
        var write = new WriteRecord(infant, clock.Zone, await SitesAsync(connection, ct));
        var resources = write.Run(facts, await IdentifiersAsync(connection, infant, ct));
        await audit.OneAsync(infant, ct);
        return resources;
    }

    private async Task<bool> MaySeeAsync(NpgsqlConnection connection, InfantId infant, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(
            $"select exists (select from infants i where i.id = @infant and {Visibility.Where("i.id")})", connection);
        command.Parameters.AddWithValue("infant", infant.Value);
        Visibility.Bind(command, viewer);
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }

    private static async Task<IReadOnlyDictionary<Guid, (string Code, string Name)>> SitesAsync(
        NpgsqlConnection connection, CancellationToken ct)
    {
        var sites = new Dictionary<Guid, (string, string)>();
        await using var command = new NpgsqlCommand("select id, code, name from sites", connection);
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) sites[reader.GetGuid(0)] = (reader.GetString(1), reader.GetString(2));
        return sites;
    }

    /// <summary>A site sees its own record numbers and the card's; another site's number would be taken for its own.</summary>
    private async Task<List<(IdentifierKind Kind, Guid Site, string Value)>> IdentifiersAsync(
        NpgsqlConnection connection, InfantId infant, CancellationToken ct)
    {
        var identifiers = new List<(IdentifierKind, Guid, string)>();
        await using var command = new NpgsqlCommand(
            "select kind, site_id, value from infant_identifiers where infant_id = $1 and superseded_at is null order by kind desc, id",
            connection);
        command.Parameters.AddWithValue(infant.Value);
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct))
        {
            var kind = reader.Code<IdentifierKind>(0);
            if (kind == IdentifierKind.CardId || viewer.MaySee(new(reader.GetGuid(1))))
                identifiers.Add((kind, reader.GetGuid(1), reader.GetString(2)));
        }

        return identifiers;
    }
}
