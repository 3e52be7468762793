using Npgsql;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

/// <summary>One fact on its way into a table, or already there (<see cref="Stored"/>).</summary>
public sealed class RecordedFact
{
    public required Guid Id { get; init; }
    public required Guid InfantId { get; init; }
    public required Guid SiteId { get; init; }

    /// <summary>Whose words it is: of a birth, the site of the row that stated it last, which need not be the birth site.</summary>
    public Guid SaidBy { get => field == default ? SiteId : field; init; }

    public required ReportedFact Fact { get; init; }
    public DateTimeOffset RecordedAt { get; init; }
    public DateTimeOffset? SupersededAt { get; set; }
    public SubmissionId SubmissionId { get; init; }
    public int RowNumber { get; init; }
    public bool Stored { get; init; }

    /// <summary>How a row of its site closed it; null while it holds.</summary>
    public RowAction? ClosedBy { get; set; }
}

/// <summary>The facts of some infants, of the kinds some rows report, by infant: those that hold, and those their site corrected or
/// retracted. Grows as rows are applied.</summary>
public sealed class RecordedFacts
{
    private static readonly string[] Statements = EmbeddedSql.Of<RecordedFacts>()
        .Split(';', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
    private readonly Dictionary<Guid, List<RecordedFact>> _held = [];
    private readonly Dictionary<Guid, List<RecordedFact>> _closed = [];

    /// <summary>What holds.</summary>
    public IReadOnlyList<RecordedFact> Of(Guid infantId) => _held.TryGetValue(infantId, out var facts) ? facts : [];

    /// <summary>What a row closed and nobody restated since; not what a person took back.</summary>
    public IReadOnlyList<RecordedFact> ClosedOf(Guid infantId) => _closed.TryGetValue(infantId, out var facts) ? facts : [];

    public void Add(RecordedFact fact)
    {
        var facts = fact.ClosedBy is null ? _held : _closed;
        if (!facts.TryGetValue(fact.InfantId, out var ofInfant)) facts[fact.InfantId] = ofInfant = [];
        ofInfant.Add(fact);
    }

    /// <summary>A closed fact no longer speaks.</summary>
    public void Close(RecordedFact fact, RowAction by)
    {
        _held[fact.InfantId].Remove(fact);
        fact.ClosedBy = by;
        Add(fact);
    }

    public static async Task<RecordedFacts> LoadAsync(
        NpgsqlConnection connection, IReadOnlyCollection<Guid> infants, IReadOnlySet<RowKind> kinds, CancellationToken ct)
    {
        var recorded = new RecordedFacts();
        if (infants.Count == 0) return recorded;
        var asked = Readers.Index().Where(r => kinds.Contains(r.Item.Kind)).ToList();
        if (asked.Count == 0) return recorded;
        await using var batch = new NpgsqlBatch(connection);
        foreach (var (i, _) in asked) batch.BatchCommands.Add(new(Statements[i]) { Parameters = { new("infants", infants.ToArray()) } });
        await using var reader = await batch.ExecuteReaderAsync(ct);
        foreach (var (_, (kind, read)) in asked)
        {
            while (await reader.ReadAsync(ct))
            {
                recorded.Add(new RecordedFact
                {
                    Id = reader.GetGuid(0),
                    InfantId = reader.GetGuid(1),
                    SiteId = reader.GetGuid(2),
                    Fact = read(reader),
                    SaidBy = kind == RowKind.Birth && !reader.IsDBNull(SaidByColumn) ? reader.GetGuid(SaidByColumn) : default,
                    Stored = true,
                    SubmissionId = reader.IsDBNull(reader.FieldCount - 3) ? default : new(reader.GetGuid(reader.FieldCount - 3)),
                    RowNumber = Int(reader, reader.FieldCount - 2) ?? 0,
                    ClosedBy = Text(reader, reader.FieldCount - 1) is { } action ? Codes.Parse<RowAction>(action) : null,
                });
            }

            await reader.NextResultAsync(ct);
        }

        return recorded;
    }

    /// <summary>Of a birth: the site of its submission.</summary>
    private const int SaidByColumn = 27;

    /// <summary>In the order of the statements in RecordedFacts.sql; columns 0 to 2 are id, infant, site, the last three the row that
    /// stated it and how it was closed.</summary>
    private static readonly (RowKind Kind, Func<NpgsqlDataReader, ReportedFact> Read)[] Readers =
    [
        (RowKind.Birth, ReadBirth),
        (RowKind.Screening, r => new ReportedScreening(Code<Ear>(r, 3), Code<ScreeningOutcome>(r, 4), r.GetDateTime(5))
        {
            Method = Code<ScreeningMethod>(r, 6),
            Reason = Code<ScreeningReason>(r, 7),
            Stage = Code<ScreeningStage>(r, 8),
            Instrument = Text(r, 9),
            Probe = Text(r, 10),
            Screener = Text(r, 11),
            Detail = !r.GetBoolean(18) ? null : new TestDetail
            {
                Stimulus = Text(r, 12),
                DurationSeconds = Decimal(r, 13),
                ArtefactsRejected = Int(r, 14),
                EarCanalVolumeMl = Decimal(r, 15),
                AmbientNoiseDb = Decimal(r, 16),
                Bands = Text(r, 17) is { } bands ? TestDetail.ReadBands(bands).Bands : [],
            },
        }),
        (RowKind.Diagnosis, r => new ReportedDiagnosis(Date(r, 3)!.Value, Code<EarFinding>(r, 4), Code<EarFinding>(r, 5))
        {
            RightDegree = Code<LossDegree>(r, 6),
            LeftDegree = Code<LossDegree>(r, 7),
            Provisional = r.GetBoolean(8),
            Permanent = r.IsDBNull(9) ? null : r.GetBoolean(9),
        }),
        (RowKind.Intervention, r => new ReportedIntervention(Code<InterventionKind>(r, 3), Date(r, 4)!.Value)),
        (RowKind.Death, r => new ReportedDeath(Date(r, 3)!.Value)),
        (RowKind.Move, r => new ReportedMove(Code<MoveKind>(r, 3), Date(r, 4)!.Value)),
        (RowKind.Transfer, r => new ReportedTransfer(r.GetGuid(3), Date(r, 4)!.Value)),
        (RowKind.Refusal, r =>
            new ReportedRefusal(Code<PathStep>(r, 3), Date(r, 4)!.Value) { RevokedOn = Date(r, 5), RefusedBy = Text(r, 6) }),
        (RowKind.Risk, r => new ReportedRisk(Code<RiskIndicatorKind>(r, 3), Date(r, 4))),
        (RowKind.Contact, r => new ReportedContact(Code<PathStep>(r, 3), Date(r, 4)!.Value, Code<ContactOutcome>(r, 5))),
        (RowKind.Readmission, r => new ReportedReadmission(Date(r, 3)!.Value, r.GetBoolean(5)) { DischargedOn = Date(r, 4) }),
        (RowKind.MedicalDelay, r => new ReportedMedicalDelay(Code<PathStep>(r, 3), Date(r, 4)!.Value) { EndedOn = Date(r, 5) }),
    ];

    private static ReportedBirth ReadBirth(NpgsqlDataReader r) => new(Date(r, 3)!.Value, Code<Sex>(r, 6))
    {
        BornAt = r.IsDBNull(4) ? null : r.GetFieldValue<TimeOnly>(4),
        Place = Code<BirthPlace>(r, 5),
        Plurality = Int(r, 7),
        BirthOrder = Int(r, 8),
        GestationWeeks = Int(r, 9),
        BirthWeightGrams = Int(r, 10),
        NicuAdmittedOn = Date(r, 11),
        NicuDischargedOn = Date(r, 12),
        DischargedOn = Date(r, 13),
        InfantGivenName = Text(r, 14),
        InfantFamilyName = Text(r, 15),
        MotherGivenName = Text(r, 16),
        MotherFamilyName = Text(r, 17),
        MotherBornOn = Date(r, 18),
        County = Text(r, 19),
        Insurance = Text(r, 20),
        Language = Text(r, 21),
        RaceEthnicity = Text(r, 22),
        MaternalEducation = Text(r, 23),
        ContactEmail = Text(r, 24),
        ContactPhone = Text(r, 25),
        EmailConsent = r.GetBoolean(26),
    };

    private static T Code<T>(NpgsqlDataReader r, int i) where T : struct, Enum => Codes.Parse<T>(r.GetString(i));
    private static string? Text(NpgsqlDataReader r, int i) => r.IsDBNull(i) ? null : r.GetString(i);
    private static int? Int(NpgsqlDataReader r, int i) => r.IsDBNull(i) ? null : r.GetInt32(i);
    private static decimal? Decimal(NpgsqlDataReader r, int i) => r.IsDBNull(i) ? null : r.GetDecimal(i);
    private static DateOnly? Date(NpgsqlDataReader r, int i) => r.IsDBNull(i) ? null : r.GetFieldValue<DateOnly>(i);
}
