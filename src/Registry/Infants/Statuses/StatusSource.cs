using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;

namespace Registry.Infants.Statuses;

/// <summary>The statuses a page or measure reads: which relation to select from, and what to print beside every figure.</summary>
/// <param name="Relation">SQL to put after <c>from</c>; never holds user input.</param>
public sealed record StatusesAsOf(string Relation, DateOnly AsOf, DateTimeOffset KnownAt, string PolicyVersion)
{
    internal const string Today = "infant_status";

    /// <summary>Today's are kept, and counts of them.</summary>
    public bool IsToday => Relation == Today;
}

/// <summary>
/// Finds the statuses for an as-of date. Today's are kept in <c>infant_status</c>; for a past day they are computed from the
/// facts known by its end, once, and kept as a snapshot (<see cref="KeepSnapshots"/>): later facts cannot change what was known then.
/// </summary>
public sealed class StatusSource(
    NpgsqlDataSource source, ProgramClock clock, PolicyStore policies, KeepSnapshots snapshots, LimitSnapshots limit)
{
    /// <exception cref="RequestRefusedException">The day lies before the registry's first birth or after today, or too many days are asked
    /// for.</exception>
    public async Task<StatusesAsOf> AsOfAsync(DateOnly asOf, CancellationToken ct)
    {
        if (await IfKeptAsync(asOf, ct) is { } kept) return kept;
        limit.Count();
        var policy = await policies.InForceAsync(asOf, ct);
        var day = new PastDay(asOf, clock.EndOf(asOf), policy.Version);
        return Of(day, await snapshots.ComputeAsync(day, policy, ct));
    }

    /// <summary>Today's, or those of a past day that somebody asked for before; null: nobody did. Computes nothing.</summary>
    /// <exception cref="RequestRefusedException">The day lies before the registry's first birth or after today.</exception>
    public async Task<StatusesAsOf?> IfKeptAsync(DateOnly asOf, CancellationToken ct)
    {
        var policy = await policies.InForceAsync(asOf, ct);
        if (asOf == clock.Today) return new StatusesAsOf(StatusesAsOf.Today, asOf, clock.Now, policy.Version);
        await RefuseOutsideAsync(asOf, ct);
        var day = new PastDay(asOf, clock.EndOf(asOf), policy.Version);
        return await snapshots.FindAsync(day, ct) is { } id ? Of(day, id) : null;
    }

    private static StatusesAsOf Of(PastDay day, Guid snapshot) => new(
        $"(select * from infant_status_snapshot where snapshot_id = '{snapshot}')", day.AsOf, day.KnownAt, day.PolicyVersion);

    /// <exception cref="RequestRefusedException">The day lies before the registry's first birth or after today.</exception>
    public async Task RefuseOutsideAsync(DateOnly asOf, CancellationToken ct)
    {
        if (asOf == clock.Today) return;
        if (asOf > clock.Today) throw SnapshotWords.TooLate();
        if (await EarliestAsync(ct) is { } earliest && asOf < earliest) throw SnapshotWords.TooEarly(earliest);
    }

    /// <summary>The first of the month of the first birth, which tells nobody's birthday; null while there is none.</summary>
    private async Task<DateOnly?> EarliestAsync(CancellationToken ct)
    {
        await using var command = source.CreateCommand("select min(born_on) from infant_status");
        await using var reader = await command.ExecuteReaderAsync(ct);
        await reader.ReadAsync(ct);
        return reader.ValueOrNull<DateOnly>(0) is { } first ? new DateOnly(first.Year, first.Month, 1) : null;
    }
}
