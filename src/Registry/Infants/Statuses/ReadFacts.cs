using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Infants.Statuses;

/// <summary>One infant's facts, ready for the rules.</summary>
public sealed record KnownInfant(InfantId Id, SiteId BirthSiteId, InfantFacts Facts);

/// <summary>Reads the facts of a set of infants as they were known at a moment.</summary>
public static class ReadFacts
{
    private static readonly string Sql = EmbeddedSql.Read(typeof(ReadFacts), nameof(ReadFacts));

    /// <summary>Infants whose birth was not known by then are left out.</summary>
    public static async Task<IReadOnlyList<KnownInfant>> KnownAtAsync(
        NpgsqlConnection connection, IReadOnlyCollection<Guid> infants, DateTimeOffset known, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.Add(new NpgsqlParameter("infants", NpgsqlDbType.Array | NpgsqlDbType.Uuid) { Value = infants.ToArray() });
        command.Parameters.Add(new NpgsqlParameter("known", NpgsqlDbType.TimestampTz) { Value = known.ToUniversalTime() });
        await using var reader = await command.ExecuteReaderAsync(ct);

        var found = new Dictionary<Guid, Gathering>(infants.Count);
        while (await reader.ReadAsync(ct))
            found[reader.GetGuid(0)] = new Gathering(new SiteId(reader.GetGuid(1)), ReadBirth(reader));

        await NextAsync(r => new ScreeningTest(Code<Ear>(r, 1), Code<ScreeningOutcome>(r, 2), r.GetDateTime(3))
        {
            Method = Code<ScreeningMethod>(r, 4),
            Reason = Code<ScreeningReason>(r, 5),
            Stage = Code<ScreeningStage>(r, 6),
            SiteId = r.GetGuid(7),
        }, g => g.Tests);
        await NextAsync(r => new DiagnosticEvaluation(Date(r, 1), Code<EarFinding>(r, 2), Code<EarFinding>(r, 3))
        {
            RightDegree = Code<LossDegree>(r, 4),
            LeftDegree = Code<LossDegree>(r, 5),
            Provisional = r.GetBoolean(6),
            Permanent = r.IsDBNull(7) ? null : r.GetBoolean(7),
        }, g => g.Evaluations);
        await NextAsync(r => new InterventionEvent(Code<InterventionKind>(r, 1), Date(r, 2)), g => g.Interventions);
        await NextAsync(r => Date(r, 1), g => g.Deaths);
        await NextAsync(r => new Move(Code<MoveKind>(r, 1), Date(r, 2)), g => g.Moves);
        await NextAsync(r => new Transfer(Date(r, 1), r.GetGuid(2)), g => g.Transfers);
        await NextAsync(r => new Refusal(Code<PathStep>(r, 1), Date(r, 2)) { RevokedOn = OptionalDate(r, 3) }, g => g.Refusals);
        await NextAsync(r => new RiskIndicator(Code<RiskIndicatorKind>(r, 1), Date(r, 2)), g => g.Risks);
        await NextAsync(r => new ContactAttempt(Code<PathStep>(r, 1), Date(r, 2), Code<ContactOutcome>(r, 3)), g => g.Contacts);
        await NextAsync(r => new Readmission(Date(r, 1), r.GetBoolean(3)) { DischargedOn = OptionalDate(r, 2) }, g => g.Readmissions);
        await NextAsync(r => new MedicalDelay(Code<PathStep>(r, 1), Date(r, 2)) { EndedOn = OptionalDate(r, 3) }, g => g.MedicalDelays);

        return found.Select(p => p.Value.ToKnownInfant(new InfantId(p.Key))).ToList();

        async Task NextAsync<T>(Func<NpgsqlDataReader, T> read, Func<Gathering, List<T>> into)
        {
            await reader.NextResultAsync(ct);
            while (await reader.ReadAsync(ct))
                if (found.TryGetValue(reader.GetGuid(0), out var infant))
                    into(infant).Add(read(reader));
        }
    }

    private static Birth ReadBirth(NpgsqlDataReader r) => new(Date(r, 2), r.IsDBNull(3) ? null : r.GetFieldValue<TimeOnly>(3))
    {
        SiteId = r.GetGuid(1),
        Place = Code<BirthPlace>(r, 4),
        GestationWeeks = r.IsDBNull(5) ? null : r.GetInt32(5),
        NicuAdmittedOn = OptionalDate(r, 6),
        NicuDischargedOn = OptionalDate(r, 7),
        DischargedOn = OptionalDate(r, 8),
    };

    private static DateOnly Date(NpgsqlDataReader r, int column) => r.GetFieldValue<DateOnly>(column);
    private static DateOnly? OptionalDate(NpgsqlDataReader r, int column) => r.IsDBNull(column) ? null : Date(r, column);
    private static T Code<T>(NpgsqlDataReader r, int column) where T : struct, Enum => Codes.Parse<T>(r.GetString(column));

    private sealed class Gathering(SiteId birthSite, Birth birth)
    {
        public List<ScreeningTest> Tests { get; } = [];
        public List<DiagnosticEvaluation> Evaluations { get; } = [];
        public List<InterventionEvent> Interventions { get; } = [];
        public List<DateOnly> Deaths { get; } = [];
        public List<Move> Moves { get; } = [];
        public List<Transfer> Transfers { get; } = [];
        public List<Refusal> Refusals { get; } = [];
        public List<RiskIndicator> Risks { get; } = [];
        public List<ContactAttempt> Contacts { get; } = [];
        public List<Readmission> Readmissions { get; } = [];
        public List<MedicalDelay> MedicalDelays { get; } = [];

        public KnownInfant ToKnownInfant(InfantId id) => new(id, birthSite, new InfantFacts
        {
            Birth = birth,
            Tests = [.. Tests],
            Evaluations = [.. Evaluations],
            Interventions = [.. Interventions],
            DiedOn = Deaths.Count == 0 ? null : Deaths.Min(),
            Moves = [.. Moves],
            Transfers = [.. Transfers],
            Refusals = [.. Refusals],
            RiskIndicators = [.. Risks],
            ContactAttempts = [.. Contacts],
            Readmissions = [.. Readmissions],
            MedicalDelays = [.. MedicalDelays],
        });
    }
}
