using Npgsql;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Rules.Facts;

namespace Registry.Intake.Typing;

/// <summary>How a person tested last.</summary>
public sealed record RememberedEvaluation(string? Place, BehavioralMethod? Method, AirTransducer? Transducer, ScreeningMethod? EmissionsBy,
    AbrScale? Scale, string? Correction);

/// <summary>How a person tested in the evaluation entered last: what the facts say, so that nothing else needs to be kept.</summary>
public sealed class RememberEvaluation(ViewerDatabase data, ProgramClock clock)
{
    /// <summary>Longer ago it says little, and is not looked for.</summary>
    private const int Days = 180;

    private static readonly string Sql = EmbeddedSql.Of<RememberEvaluation>();

    public async Task<RememberedEvaluation?> OfAsync(Viewer viewer, CancellationToken ct)
    {
        if (viewer.SiteId is not { } site) return null;
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.AddWithValue(site.Value);
        command.Parameters.AddWithValue(RememberInstrument.NameOf(viewer));
        command.Parameters.AddWithValue(clock.Today.AddDays(-Days));
        await using var r = await command.ExecuteReaderAsync(ct);
        return await r.ReadAsync(ct) ? new(r.TextOrNull(0), r.CodeOrNull<BehavioralMethod>(1), r.CodeOrNull<AirTransducer>(2),
            r.CodeOrNull<ScreeningMethod>(3), r.CodeOrNull<AbrScale>(4), r.TextOrNull(5)) : null;
    }
}
