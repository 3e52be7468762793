using System.Data;
using System.Runtime.CompilerServices;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Facts;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Rules;
using Registry.Rules.Measures;

namespace Registry.Reporting.Measures;

/// <summary>Streams the infants of a request with facts and status, in id order, from one consistent view of the database.</summary>
public sealed class ReadMeasuredInfants(NpgsqlDataSource source, IOptions<ProgramOptions> program)
{
    private const int ChunkSize = 5_000;
    private static readonly string Sql = EmbeddedSql.Of<ReadMeasuredInfants>();

    public async IAsyncEnumerable<MeasuredInfant> ForAsync(MeasureRequest request, Policy policy,
        [EnumeratorCancellation] CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, ct);
        var attributes = await AttributesAsync(connection, request, ct);
        foreach (var chunk in attributes.Keys.Chunk(ChunkSize))
        {
            var infants = await FactsForRules.KnownAtAsync(connection, chunk, request.KnownAt, ct);
            foreach (var (infant, status) in RecomputeStatuses.Evaluate(infants, policy, request.AsOf).OrderBy(p => p.Infant.Id.Value))
                yield return new(infant.Id.Value, infant.Facts, status, attributes[infant.Id.Value], request.AsOf);
        }
    }

    private async Task<Dictionary<Guid, Attributes>> AttributesAsync(
        NpgsqlConnection connection, MeasureRequest request, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.AddWithValue("from", request.From);
        command.Parameters.AddWithValue("to", request.To);
        command.Parameters.AddWithValue("as_of", request.AsOf);
        command.Parameters.AddWithValue("known", request.KnownAt.ToUniversalTime());
        var found = new Dictionary<Guid, Attributes>();

        // Attributes repeat: equal ones are kept once.
        var seen = new Dictionary<Attributes, Attributes>();
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct))
        {
            var read = new Attributes
            {
                Site = reader.GetString(1),
                County = Text(2),
                Resident = IsResident(Text(10)),
                Insurance = Text(3),
                Language = Text(4),
                RaceEthnicity = Text(5),
                MaternalEducation = Text(6),
                Sex = Text(7) is { } sex and not "unknown" ? sex : null,
                MaternalAge = Attributes.AgeGroup(
                    reader.IsDBNull(8) ? null : reader.GetFieldValue<DateOnly>(8), reader.GetFieldValue<DateOnly>(9)),
            };
            if (!seen.TryGetValue(read, out var kept)) seen.Add(read, kept = read);
            found[reader.GetGuid(0)] = kept;
        }

        return found;

        bool? IsResident(string? state) => state is null || program.Value.State.Length == 0 ? null
            : string.Equals(state.Trim(), program.Value.State, StringComparison.OrdinalIgnoreCase);

        string? Text(int column) => reader.TextOrNull(column) is { Length: > 0 } text ? text : null;
    }
}
