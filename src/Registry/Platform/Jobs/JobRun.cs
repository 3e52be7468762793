using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Platform.Jobs;

public enum JobOutcome
{
    Running,
    Succeeded,
    Failed,

    /// <summary>Its worker died; the job ran again.</summary>
    Interrupted,
}

/// <summary>One run of a recurring job, kept for the operations page. Holds no personal data: <see cref="Said"/> is a count in
/// words, <see cref="Error"/> a kind of error and where it was thrown, never its message.</summary>
public sealed class JobRun
{
    public Guid Id { get; init; }

    /// <summary>Id of the <see cref="RecurringJob"/>.</summary>
    public required string Job { get; init; }

    /// <summary>Hangfire's id of the background job; a retry has the same.</summary>
    public required string BackgroundJobId { get; init; }
    public DateTimeOffset StartedAt { get; init; }
    public DateTimeOffset? FinishedAt { get; set; }
    public JobOutcome Outcome { get; set; }
    public string? Said { get; set; }
    public string? Error { get; set; }
}

internal sealed class ConfigureJobRun : IEntityTypeConfiguration<JobRun>
{
    public void Configure(EntityTypeBuilder<JobRun> builder)
    {
        builder.ToTable("job_runs");
        builder.HasIndex(r => new { r.Job, r.StartedAt });
        builder.HasIndex(r => r.BackgroundJobId).HasFilter("outcome = 'running'");
    }
}
