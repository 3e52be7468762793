using System.Text.Json;
using System.Text.Json.Serialization;
using Npgsql;
using NpgsqlTypes;
using Registry.Facts;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.Infants.Statuses;

/// <summary>Writes statuses: into <c>infant_status</c>, or as rows of a snapshot for another as-of date.</summary>
public static class StoreStatuses
{
    private const string Columns =
        """
        infant_id, policy_version, as_of, born_on, birth_site_id, responsible_site_id, right_ear, left_ear, screening,
        screened_state, screened_deadline_on, screened_on, screened_reason,
        diagnosed_state, diagnosed_deadline_on, diagnosed_on, diagnosed_reason,
        enrolled_state, enrolled_deadline_on, enrolled_on, enrolled_reason,
        hearing, right_finding, left_finding, right_degree, left_degree, laterality, identified_on, next_step, next_due_on, dues, loss, lost_at,
        screening_category, diagnosis_category, intervention_category, flags, next_change_on
        """;

    private static readonly JsonSerializerOptions DueJson = new(JsonSerializerDefaults.Web)
    {
        Converters = { new JsonStringEnumConverter(JsonNamingPolicy.SnakeCaseLower) },
    };

    /// <summary>Replaces the stored statuses of <paramref name="infantIds"/>, on the caller's connection and in its transaction.</summary>
    public static async Task ReplaceAsync(
        NpgsqlConnection connection, Guid[] infantIds, IEnumerable<(KnownInfant Infant, InfantStatus Status)> statuses,
        string policyVersion, DateOnly asOf, CancellationToken ct)
    {
        await using (var delete = new NpgsqlCommand("delete from infant_status where infant_id = any($1)", connection))
        {
            delete.Parameters.AddWithValue(infantIds);
            await delete.ExecuteNonQueryAsync(ct);
        }

        await using var import = await connection.BeginBinaryImportAsync($"copy infant_status ({Columns}) from stdin (format binary)", ct);
        foreach (var (infant, status) in statuses) await WriteAsync(import, infant, status, policyVersion, asOf, ct);
        await import.CompleteAsync(ct);
    }

    /// <summary>Appends statuses to a snapshot (see <see cref="StatusSource"/>).</summary>
    public static async Task AppendToSnapshotAsync(
        NpgsqlConnection connection, Guid snapshotId, IEnumerable<(KnownInfant Infant, InfantStatus Status)> statuses,
        string policyVersion, DateOnly asOf, CancellationToken ct)
    {
        await using var import = await connection.BeginBinaryImportAsync(
            $"copy infant_status_snapshot ({Columns}, snapshot_id) from stdin (format binary)", ct);
        foreach (var (infant, status) in statuses)
        {
            await WriteAsync(import, infant, status, policyVersion, asOf, ct);
            await import.WriteAsync(snapshotId, NpgsqlDbType.Uuid, ct);
        }

        await import.CompleteAsync(ct);
    }

    private static async Task WriteAsync(
        NpgsqlBinaryImporter import, KnownInfant infant, InfantStatus status, string policyVersion, DateOnly asOf, CancellationToken ct)
    {
        Due? next = status.Dues.Length > 0 ? status.Dues[0] : null;
        await import.StartRowAsync(ct);
        await import.WriteAsync(infant.Id.Value, NpgsqlDbType.Uuid, ct);
        await TextAsync(policyVersion);
        await DateAsync(asOf);
        await DateAsync(infant.Facts.Birth.Date);
        await import.WriteAsync(infant.BirthSiteId.Value, NpgsqlDbType.Uuid, ct);
        await import.WriteAsync(status.ResponsibleSiteId ?? infant.BirthSiteId.Value, NpgsqlDbType.Uuid, ct);
        await TextAsync(Codes.Of(status.Right));
        await TextAsync(Codes.Of(status.Left));
        await TextAsync(Codes.Of(status.Screening));
        await MilestoneAsync(status.Screened);
        await MilestoneAsync(status.Diagnosed);
        await MilestoneAsync(status.Enrolled);
        await TextAsync(Codes.Of(status.Hearing));
        await TextAsync(Codes.Of(status.RightHearing.Finding));
        await TextAsync(Codes.Of(status.LeftHearing.Finding));
        await TextAsync(Codes.Of(status.RightHearing.Degree));
        await TextAsync(Codes.Of(status.LeftHearing.Degree));
        await TextAsync(Codes.Of(status.Laterality));
        await DateAsync(status.IdentifiedOn);
        await TextAsync(next is { } step ? Codes.Of(step.Step) : null);
        await DateAsync(next?.DueOn);
        await import.WriteAsync(JsonSerializer.Serialize(status.Dues, DueJson), NpgsqlDbType.Jsonb, ct);
        await TextAsync(Codes.Of(status.Loss));
        await TextAsync(status.LostAt is { } at ? Codes.Of(at) : null);
        await TextAsync(Codes.Of(status.ScreeningCategory));
        await TextAsync(Codes.Of(status.DiagnosisCategory));
        await TextAsync(Codes.Of(status.InterventionCategory));
        await import.WriteAsync((int)status.Flags, NpgsqlDbType.Integer, ct);
        await DateAsync(status.NextChangeOn);

        async Task MilestoneAsync(Milestone milestone)
        {
            await TextAsync(Codes.Of(milestone.State));
            await DateAsync(milestone.DeadlineOn);
            await DateAsync(milestone.DoneOn);
            await TextAsync(milestone.Reason);
        }

        Task TextAsync(string? value) =>
            value is null ? import.WriteNullAsync(ct) : import.WriteAsync(value, NpgsqlDbType.Text, ct);

        Task DateAsync(DateOnly? value) =>
            value is { } date ? import.WriteAsync(date, NpgsqlDbType.Date, ct) : import.WriteNullAsync(ct);
    }
}
