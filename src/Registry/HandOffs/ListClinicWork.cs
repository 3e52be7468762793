using Npgsql;
using Registry.Access;
using Registry.Facts;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.HandOffs;

/// <summary>What waits for a clinic. <c>ResultToEnter</c>: an appointment passed, or an infant was accepted or transferred here, and no
/// result is known. <c>ResultAsked</c>: somebody asks for one.</summary>
public enum ClinicWork { Appointment, ToAcknowledge, ResultToEnter, ResultAsked }

/// <summary>One thing that waits for a clinic.</summary>
/// <param name="Subject">The hand-off, appointment or request.</param>
/// <param name="On">Its day: of the appointment, by which it is to be acknowledged, since when a result is missing.</param>
/// <param name="ForWhom">The person of the clinic a hand-off is for.</param>
/// <param name="From">Who handed the infant on, or made the appointment.</param>
public sealed record ClinicRow(
    ClinicWork Kind, InfantId Id, Guid Subject, PathStep Step, DateOnly On, TimeOnly? Time, string? From, DateOnly BornOn, string Child,
    string Mother, string? Phone, string? Language, string? RecordNumber, string? FromCode, string? ForWhom);

/// <summary>What waits for the viewer's site as a clinic, soonest first.</summary>
public sealed class ListClinicWork(ViewerDatabase data, ProgramClock clock)
{
    /// <summary>More than a clinic has.</summary>
    public const int Most = 500;

    private static readonly string Sql = EmbeddedSql.Of<ListClinicWork>()
        .Replace("{sites}", "select h.site_id from site_heirs h where h.heir_id = @site", StringComparison.Ordinal)
        .Replace("{visible}", Visibility.Where("w.infant_id"), StringComparison.Ordinal)
        .Replace("{family}", WhomToCall.Join("w.infant_id"), StringComparison.Ordinal);

    public async Task<IReadOnlyList<ClinicRow>> OfAsync(Viewer viewer, CancellationToken ct)
    {
        if (viewer.SiteId is not { } site) return [];
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = new NpgsqlCommand(Sql, connection);
        Visibility.Bind(command, viewer);
        command.Parameters.AddWithValue("site", site.Value);
        command.Parameters.AddWithValue("today", clock.Today);
        command.Parameters.AddWithValue("most", Most);
        var rows = new List<ClinicRow>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            var call = WhomToCall.Of(r.TextOrNull(12), r.TextOrNull(13), r.TextOrNull(16));
            rows.Add(new(
                r.Code<ClinicWork>(0), new(r.GetGuid(1)), r.GetGuid(2), r.Code<PathStep>(3), r.Date(4), r.ValueOrNull<TimeOnly>(5),
                r.TextOrNull(6), r.Date(7), $"{r.TextOrNull(8)} {r.TextOrNull(9)}".Trim(), $"{r.TextOrNull(10)} {r.TextOrNull(11)}".Trim(),
                call.Phone, call.Language, r.TextOrNull(14), r.TextOrNull(15),
                FieldKeys.OfProcess.Decrypt(r.TextOrNull(17), SendHandOff.PersonPlace)));
        }

        return rows;
    }
}
