using Npgsql;
using NpgsqlTypes;
using Registry.Infants.Counting;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;

namespace Registry.SiteQuality;

/// <summary>Whose screening of the birth admission is looked at.</summary>
/// <param name="Period">Days of test, or of birth.</param>
/// <param name="By">Which of them.</param>
/// <param name="Site">Of one site; null: of all.</param>
/// <param name="AsOf">What was known at the end of this day; null: what is known now.</param>
/// <param name="Policy">In force on the day.</param>
public sealed record ScreensAsked(Period Period, CountedDay By, SiteId? Site, DateOnly? AsOf, Policy Policy)
{
    internal void Bind(NpgsqlCommand command)
    {
        var p = command.Parameters;
        p.AddWithValue("from", Period.From);
        p.AddWithValue("to", Period.To);
        p.AddWithValue("by_birth", By == CountedDay.Birth);
        p.AddNullable("site", Site?.Value, NpgsqlDbType.Uuid);
        p.AddNullable("as_of", AsOf, NpgsqlDbType.Date);
    }
}

/// <summary>Finds out what a page or job may ask of a day. Counts need no computation for a past day.</summary>
public sealed class AskScreens(StatusSource statuses, PolicyStore policies, ProgramClock clock)
{
    /// <exception cref="RequestRefusedException">The day lies before the registry's first birth or after today.</exception>
    public async Task<ScreensAsked> AsOfAsync(Period period, CountedDay by, SiteId? site, DateOnly day, CancellationToken ct)
    {
        await statuses.RefuseOutsideAsync(day, ct);
        return new(period, by, site, day == clock.Today ? null : day, await policies.InForceAsync(day, ct));
    }
}
