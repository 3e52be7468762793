using System.Text.Json;
using System.Text.Json.Serialization;
using Npgsql;
using Registry.Facts;
using Registry.Platform.Data;
using Registry.Rules;

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
        hearing, right_finding, left_finding, right_degree, left_degree, laterality, identified_on,
        next_step, next_due_on, dues, loss, lost_at,
        screening_category, diagnosis_category, intervention_category, flags, next_change_on
        """;

    private static readonly JsonSerializerOptions DueJson = new(JsonSerializerDefaults.Web)
    {
        Converters = { new JsonStringEnumConverter(JsonNamingPolicy.SnakeCaseLower) },
    };

    /// <summary>What was there goes, and the sites and days of birth it is of, before and after, are marked to be counted anew.</summary>
    private const string RemoveSql =
        """
        with gone as (delete from infant_status where infant_id = any($1) returning birth_site_id, born_on)
        insert into status_marks (site_id, born_on) select * from gone union select * from unnest($2, $3)
        """;

    /// <summary>Replaces the stored statuses of <paramref name="infantIds"/>, on the caller's connection and in its transaction.</summary>
    public static async Task ReplaceAsync(
        NpgsqlConnection connection, Guid[] infantIds, IEnumerable<(KnownInfant Infant, InfantStatus Status)> statuses,
        string policyVersion, DateOnly asOf, CancellationToken ct)
    {
        var now = statuses.ToList();
        await using (var remove = new NpgsqlCommand(RemoveSql, connection))
        {
            remove.Parameters.AddWithValue(infantIds);
            remove.Parameters.AddWithValue(now.Select(s => s.Infant.BirthSiteId.Value).ToArray());
            remove.Parameters.AddWithValue(now.Select(s => s.Infant.Facts.Birth.Date).ToArray());
            await remove.ExecuteNonQueryAsync(ct);
        }

        await CopyRows.RunAsync(connection, $"copy infant_status ({Columns}) from stdin (format binary)", now,
            (row, s) => Write(row, s.Infant, s.Status, policyVersion, asOf), ct);
    }

    /// <summary>Appends statuses to a snapshot (see <see cref="StatusSource"/>).</summary>
    public static Task AppendToSnapshotAsync(
        NpgsqlConnection connection, Guid snapshotId, IEnumerable<(KnownInfant Infant, InfantStatus Status)> statuses,
        string policyVersion, DateOnly asOf, CancellationToken ct) =>
        CopyRows.RunAsync(connection, $"copy infant_status_snapshot ({Columns}, snapshot_id) from stdin (format binary)", statuses.ToList(),
            (row, s) =>
            {
                Write(row, s.Infant, s.Status, policyVersion, asOf);
                row.Id(snapshotId);
            }, ct);

    /// <summary>In the order of <see cref="Columns"/>.</summary>
    private static void Write(NpgsqlBinaryImporter row, KnownInfant infant, InfantStatus status, string policyVersion, DateOnly asOf)
    {
        Due? next = status.Dues.Length > 0 ? status.Dues[0] : null;
        row.Id(infant.Id.Value);
        row.Text(policyVersion);
        row.Date(asOf);
        row.Date(infant.Facts.Birth.Date);
        row.Id(infant.BirthSiteId.Value);
        row.Id(status.ResponsibleSiteId ?? infant.BirthSiteId.Value);
        row.Code(status.Right);
        row.Code(status.Left);
        row.Code(status.Screening);
        WriteMilestone(row, status.Screened);
        WriteMilestone(row, status.Diagnosed);
        WriteMilestone(row, status.Enrolled);
        row.Code(status.Hearing);
        row.Code(status.RightHearing.Finding);
        row.Code(status.LeftHearing.Finding);
        row.Code(status.RightHearing.Degree);
        row.Code(status.LeftHearing.Degree);
        row.Code(status.Laterality);
        row.Date(status.IdentifiedOn);
        row.Code(next?.Step);
        row.Date(next?.DueOn);
        row.Json(JsonSerializer.Serialize(status.Dues, DueJson));
        row.Code(status.Loss);
        row.Code(status.LostAt);
        row.Code(status.ScreeningCategory);
        row.Code(status.DiagnosisCategory);
        row.Code(status.InterventionCategory);
        row.Number((int)status.Flags);
        row.Date(status.NextChangeOn);
    }

    private static void WriteMilestone(NpgsqlBinaryImporter row, Milestone milestone)
    {
        row.Code(milestone.State);
        row.Date(milestone.DeadlineOn);
        row.Date(milestone.DoneOn);
        row.Text(milestone.Reason);
    }
}
