using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Linkage;

namespace Registry.Intake.HeldRows;

/// <summary>How long a row waits, in calendar days since it was received: none, up to 6, up to 30, more (own choice).</summary>
public enum WaitingAge { Today, Week, Month, Older }

/// <summary>Which waiting rows; null is any. A kind that could not be read is <c>unknown</c>. Field and reason pick rows with that
/// problem.</summary>
public sealed record WaitingFilter(
    SiteId? Site, SubmissionId? Submission = null, RowOutcome? Outcome = null, string? Kind = null, HoldReason? Hold = null,
    string? Field = null, string? Reason = null, WaitingAge? Age = null)
{
    private static readonly string Sql = EmbeddedSql.Of<WaitingFilter>("WaitingRows");

    /// <summary>A statement over the rows of the filter, which it reads as <c>waiting</c>.</summary>
    internal static string Over(string name) => $"with waiting as (\n{Sql})\n{EmbeddedSql.Of<WaitingFilter>(name)}";

    internal void Bind(NpgsqlCommand command, ProgramClock clock)
    {
        var (from, before) = Bounds(clock);
        var parameters = command.Parameters;
        parameters.AddNullable("site", Site?.Value, NpgsqlDbType.Uuid);
        parameters.AddNullable("submission", Submission?.Value, NpgsqlDbType.Uuid);
        parameters.AddCode("outcome", Outcome);
        parameters.AddNullable("kind", Kind, NpgsqlDbType.Text);
        parameters.AddCode("hold", Hold);
        parameters.AddNullable("reason", Reason, NpgsqlDbType.Text);
        parameters.AddNullable("field", string.IsNullOrEmpty(Field) ? null : Field, NpgsqlDbType.Text);
        parameters.AddNullable("from", from?.ToUniversalTime(), NpgsqlDbType.TimestampTz);
        parameters.AddNullable("before", before?.ToUniversalTime(), NpgsqlDbType.TimestampTz);
    }

    /// <summary>The beginning of the first day of an age, as of today; the oldest has none.</summary>
    internal static DateTimeOffset Start(WaitingAge age, ProgramClock clock) => clock.EndOf(clock.Today.AddDays(age switch
    {
        WaitingAge.Today => -1,
        WaitingAge.Week => -7,
        _ => -31,
    }));

    private (DateTimeOffset? From, DateTimeOffset? Before) Bounds(ProgramClock clock) => Age switch
    {
        null => (null, null),
        WaitingAge.Today => (Start(WaitingAge.Today, clock), null),
        WaitingAge.Week => (Start(WaitingAge.Week, clock), Start(WaitingAge.Today, clock)),
        WaitingAge.Month => (Start(WaitingAge.Month, clock), Start(WaitingAge.Week, clock)),
        _ => (null, Start(WaitingAge.Month, clock)),
    };
}
