using Npgsql;
using NpgsqlTypes;
using Registry.Intake.Applying;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Facts;

/// <summary>Collects what some rows add and writes it with one binary COPY per table.</summary>
internal sealed class WriteFacts
{
    private const string Common = "id, infant_id, site_id, recorded_at, superseded_at, submission_id, row_number, ";

    private readonly List<(Guid Id, DateTimeOffset At)> _infants = [];
    private readonly List<(Guid Id, IdentifierKind Kind, string Value, Guid InfantId, RowToApply Row)> _identifiers = [];
    private readonly Dictionary<Type, List<RecordedFact>> _facts = [];
    private readonly List<(RecordedFact Fact, DateTimeOffset At)> _superseded = [];
    private readonly List<(RecordedFact Fact, RowToApply Row)> _corrections = [];

    public void AddInfant(Guid id, DateTimeOffset at) => _infants.Add((id, at));

    public void AddIdentifier(IdentifierKind kind, string value, Guid infantId, RowToApply row) =>
        _identifiers.Add((Guid.CreateVersion7(), kind, value, infantId, row));

    public void Add(RecordedFact fact)
    {
        if (!_facts.TryGetValue(fact.Fact.GetType(), out var facts)) _facts[fact.Fact.GetType()] = facts = [];
        facts.Add(fact);
    }

    /// <summary>Closes a fact, in the table or before it gets there, and says which row did it.</summary>
    public void Close(RecordedFact fact, RowToApply row)
    {
        if (fact.Stored) _superseded.Add((fact, row.RecordedAt));
        else fact.SupersededAt = row.RecordedAt;
        _corrections.Add((fact, row));
    }

    public async Task RunAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        await SupersedeAsync(connection, ct);
        await CopyRows.RunAsync(connection, "copy infants (id, created_at) from stdin (format binary)", _infants, static (w, i) =>
        {
            w.Write(i.Id, NpgsqlDbType.Uuid);
            w.Write(i.At, NpgsqlDbType.TimestampTz);
        }, ct);
        await CopyRows.RunAsync(
            connection, "copy infant_identifiers (id, kind, value, infant_id, site_id, recorded_at, submission_id, row_number) from stdin "
                + "(format binary)",
            _identifiers, static (w, i) =>
            {
                w.Write(i.Id, NpgsqlDbType.Uuid);
                w.Write(Codes.Of(i.Kind), NpgsqlDbType.Text);
                w.Write(i.Value, NpgsqlDbType.Text);
                w.Write(i.InfantId, NpgsqlDbType.Uuid);
                w.Write(i.Row.SiteId.Value, NpgsqlDbType.Uuid);
                w.Write(i.Row.RecordedAt, NpgsqlDbType.TimestampTz);
                w.Write(i.Row.SubmissionId.Value, NpgsqlDbType.Uuid);
                w.Write(i.Row.RowNumber, NpgsqlDbType.Integer);
            }, ct);

        await CopyRows.RunAsync(
            connection, $"copy corrections ({Common}kind, fact_id, action) from stdin (format binary)", _corrections, static (w, c) =>
            {
                w.Write(Guid.CreateVersion7(), NpgsqlDbType.Uuid);
                w.Write(c.Fact.InfantId, NpgsqlDbType.Uuid);
                w.Write(c.Row.SiteId.Value, NpgsqlDbType.Uuid);
                w.Write(c.Row.RecordedAt, NpgsqlDbType.TimestampTz);
                w.WriteNull();
                w.Write(c.Row.SubmissionId.Value, NpgsqlDbType.Uuid);
                w.Write(c.Row.RowNumber, NpgsqlDbType.Integer);
                Code(w, c.Row.Row.Kind);
                w.Write(c.Fact.Id, NpgsqlDbType.Uuid);
                Code(w, c.Row.Row.Action);
            }, ct);

        await CopyAsync<ReportedBirth>(connection, "births",
            "born_on, born_at, place, sex, plurality, birth_order, gestation_weeks, birth_weight_grams, nicu_admitted_on, "
                + "nicu_discharged_on, "
            + "discharged_on, infant_given_name, infant_family_name, mother_given_name, mother_family_name, mother_born_on, "
                + "mother_family_key, "
            + "mother_given_key, county, insurance, language, race_ethnicity, maternal_education, contact_email, contact_phone, "
                + "email_consent",
            Birth, ct);
        await CopyAsync<ReportedScreening>(
            connection, "screenings", "ear, outcome, performed_at, method, reason, stage, instrument, probe, screener", static (w, f) =>
        {
            Code(w, f.Ear);
            Code(w, f.Outcome);
            w.Write(f.PerformedAt, NpgsqlDbType.Timestamp);
            Code(w, f.Method);
            Code(w, f.Reason);
            Code(w, f.Stage);
            Text(w, f.Instrument);
            Text(w, f.Probe);
            Text(w, f.Screener);
        }, ct);
        await CopyDetailAsync(connection, ct);
        await CopyAsync<ReportedDiagnosis>(connection, "diagnoses",
            "evaluated_on, right_finding, left_finding, right_degree, left_degree, provisional, permanent", static (w, f) =>
        {
            Date(w, f.EvaluatedOn);
            Code(w, f.Right);
            Code(w, f.Left);
            Code(w, f.RightDegree);
            Code(w, f.LeftDegree);
            w.Write(f.Provisional, NpgsqlDbType.Boolean);
            if (f.Permanent is { } permanent) w.Write(permanent, NpgsqlDbType.Boolean);
            else w.WriteNull();
        }, ct);
        await CopyAsync<ReportedIntervention>(connection, "interventions", "kind, happened_on", static (w, f) =>
        {
            Code(w, f.Kind);
            Date(w, f.HappenedOn);
        }, ct);
        await CopyAsync<ReportedDeath>(connection, "deaths", "died_on", static (w, f) => Date(w, f.DiedOn), ct);
        await CopyAsync<ReportedMove>(connection, "moves", "kind, moved_on", static (w, f) =>
        {
            Code(w, f.Kind);
            Date(w, f.MovedOn);
        }, ct);
        await CopyAsync<ReportedTransfer>(connection, "transfers", "to_site_id, transferred_on", static (w, f) =>
        {
            w.Write(f.ToSiteId, NpgsqlDbType.Uuid);
            Date(w, f.TransferredOn);
        }, ct);
        await CopyAsync<ReportedRefusal>(connection, "refusals", "step, refused_on, revoked_on, refused_by", static (w, f) =>
        {
            Code(w, f.Step);
            Date(w, f.RefusedOn);
            Date(w, f.RevokedOn);
            Text(w, f.RefusedBy);
        }, ct);
        await CopyAsync<ReportedRisk>(connection, "risks", "kind, noted_on", static (w, f) =>
        {
            Code(w, f.Kind);
            Date(w, f.NotedOn);
        }, ct);
        await CopyAsync<ReportedContact>(connection, "contacts", "step, attempted_on, outcome", static (w, f) =>
        {
            Code(w, f.Step);
            Date(w, f.AttemptedOn);
            Code(w, f.Outcome);
        }, ct);
        await CopyAsync<ReportedReadmission>(connection, "readmissions", "admitted_on, discharged_on, raises_risk", static (w, f) =>
        {
            Date(w, f.AdmittedOn);
            Date(w, f.DischargedOn);
            w.Write(f.RaisesRisk, NpgsqlDbType.Boolean);
        }, ct);
        await CopyAsync<ReportedMedicalDelay>(connection, "medical_delays", "step, from_on, ended_on", static (w, f) =>
        {
            Code(w, f.Step);
            Date(w, f.FromOn);
            Date(w, f.EndedOn);
        }, ct);
    }

    /// <summary>After the screenings they belong to; nothing is sent when none has a detail.</summary>
    private async Task CopyDetailAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        if (!_facts.TryGetValue(typeof(ReportedScreening), out var screenings)) return;
        var details = screenings.Select(f => (f.Id, ((ReportedScreening)f.Fact).Detail)).Where(d => d.Detail is not null).ToList();
        await CopyRows.RunAsync(
            connection,
            "copy screening_details (screening_id, stimulus, duration_seconds, artefacts_rejected, ear_canal_volume_ml, ambient_noise_db) "
                + "from stdin (format binary)",
            details, static (w, d) =>
            {
                w.Write(d.Id, NpgsqlDbType.Uuid);
                Text(w, d.Detail!.Stimulus);
                Decimal(w, d.Detail.DurationSeconds);
                Int(w, d.Detail.ArtefactsRejected);
                Decimal(w, d.Detail.EarCanalVolumeMl);
                Decimal(w, d.Detail.AmbientNoiseDb);
            }, ct);
        await CopyRows.RunAsync(
            connection, "copy screening_bands (screening_id, frequency_hz, level_db_spl, noise_db_spl, snr_db) from stdin (format binary)",
            details.SelectMany(d => d.Detail!.Bands, (d, b) => (d.Id, Band: b)).ToList(), static (w, b) =>
            {
                w.Write(b.Id, NpgsqlDbType.Uuid);
                w.Write(b.Band.FrequencyHz, NpgsqlDbType.Integer);
                Decimal(w, b.Band.LevelDbSpl);
                Decimal(w, b.Band.NoiseDbSpl);
                Decimal(w, b.Band.SnrDb);
            }, ct);
    }

    private static void Birth(NpgsqlBinaryImporter w, ReportedBirth f)
    {
        Date(w, f.BornOn);
        if (f.BornAt is { } at) w.Write(at, NpgsqlDbType.Time);
        else w.WriteNull();
        Code(w, f.Place ?? BirthPlace.Hospital);
        Code(w, f.Sex);
        Int(w, f.Plurality);
        Int(w, f.BirthOrder);
        Int(w, f.GestationWeeks);
        Int(w, f.BirthWeightGrams);
        Date(w, f.NicuAdmittedOn);
        Date(w, f.NicuDischargedOn);
        Date(w, f.DischargedOn);
        Text(w, f.InfantGivenName);
        Text(w, f.InfantFamilyName);
        Text(w, f.MotherGivenName);
        Text(w, f.MotherFamilyName);
        Date(w, f.MotherBornOn);
        Text(w, NormaliseName.Of(f.MotherFamilyName));
        Text(w, NormaliseName.Of(f.MotherGivenName));
        Text(w, f.County);
        Text(w, f.Insurance);
        Text(w, f.Language);
        Text(w, f.RaceEthnicity);
        Text(w, f.MaternalEducation);
        Text(w, f.ContactEmail);
        Text(w, f.ContactPhone);
        w.Write(f.EmailConsent ?? false, NpgsqlDbType.Boolean);
    }

    private async Task CopyAsync<T>(NpgsqlConnection connection, string table, string columns, Action<NpgsqlBinaryImporter, T> write,
        CancellationToken ct)
        where T : ReportedFact
    {
        if (!_facts.TryGetValue(typeof(T), out var facts)) return;
        await CopyRows.RunAsync(connection, $"copy {table} ({Common}{columns}) from stdin (format binary)", facts, (w, f) =>
        {
            w.Write(f.Id, NpgsqlDbType.Uuid);
            w.Write(f.InfantId, NpgsqlDbType.Uuid);
            w.Write(f.SiteId, NpgsqlDbType.Uuid);
            w.Write(f.RecordedAt, NpgsqlDbType.TimestampTz);
            if (f.SupersededAt is { } at) w.Write(at, NpgsqlDbType.TimestampTz);
            else w.WriteNull();
            w.Write(f.SubmissionId.Value, NpgsqlDbType.Uuid);
            w.Write(f.RowNumber, NpgsqlDbType.Integer);
            write(w, (T)f.Fact);
        }, ct);
    }

    private async Task SupersedeAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        foreach (var group in _superseded.GroupBy(s => FactTables.Of(s.Fact.Fact)))
        {
            await using var command = new NpgsqlCommand(
                $"""
                update {group.Key} f set superseded_at = greatest(f.recorded_at, closed.at)
                  from unnest($1::uuid[], $2::timestamptz[]) as closed (id, at) where f.id = closed.id and f.superseded_at is null
                """, connection);
            command.Parameters.AddWithValue(group.Select(s => s.Fact.Id).ToArray());
            command.Parameters.AddWithValue(group.Select(s => s.At).ToArray());
            await command.ExecuteNonQueryAsync(ct);
        }
    }

    private static void Code<T>(NpgsqlBinaryImporter w, T value) where T : struct, Enum => w.Write(Codes.Of(value), NpgsqlDbType.Text);

    private static void Text(NpgsqlBinaryImporter w, string? value)
    {
        if (value is null) w.WriteNull();
        else w.Write(value, NpgsqlDbType.Text);
    }

    private static void Int(NpgsqlBinaryImporter w, int? value)
    {
        if (value is { } v) w.Write(v, NpgsqlDbType.Integer);
        else w.WriteNull();
    }

    private static void Decimal(NpgsqlBinaryImporter w, decimal? value)
    {
        if (value is { } v) w.Write(v, NpgsqlDbType.Numeric);
        else w.WriteNull();
    }

    private static void Date(NpgsqlBinaryImporter w, DateOnly? value)
    {
        if (value is { } v) w.Write(v, NpgsqlDbType.Date);
        else w.WriteNull();
    }
}
