using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.Infants.Statuses;

/// <summary>What is counted of a status: each milestone that arises by its state, and whether its deadline has passed; the soonest due
/// step; and who is lost: to follow-up or to documentation, and at which step.</summary>
public enum StatusFigure { Screened, Diagnosed, Enrolled, Due, LostHow, LostAt }

/// <summary>
/// Infants of a site born on one day, or in one month, by what their statuses say on the day they were counted. Derived from
/// <c>infant_status</c>, and true of every day until <see cref="HoldsUntil"/> unless a <see cref="StatusMark"/> says that something of that
/// day changed.
/// </summary>
public sealed class StatusCount
{
    public SiteId SiteId { get; init; }

    /// <summary>Of all days of a month put together: <see cref="BornOn"/> is its first.</summary>
    public bool WholeMonth { get; init; }
    public DateOnly BornOn { get; init; }
    public StatusFigure Counted { get; init; }

    /// <summary>A code: of a milestone's state, of how somebody is lost, of a step; "overdue", "week".</summary>
    public required string State { get; init; }
    public bool Closed { get; init; }
    public int Infants { get; init; }

    /// <summary>The last day on which no deadline passes and nothing becomes due.</summary>
    public DateOnly HoldsUntil { get; init; }
}

/// <summary>A status of an infant of this site and day was written since they were counted. Whoever writes statuses adds these in the same
/// transaction; nobody waits for anybody.</summary>
public sealed class StatusMark
{
    public SiteId SiteId { get; init; }
    public DateOnly BornOn { get; init; }
}

internal sealed class ConfigureStatusCount : IEntityTypeConfiguration<StatusCount>
{
    public void Configure(EntityTypeBuilder<StatusCount> builder)
    {
        builder.ToTable("status_counts").HasNoKey();
        builder.HasIndex(c => new { c.WholeMonth, c.Counted, c.BornOn, c.SiteId });
        builder.HasIndex(c => new { c.SiteId, c.BornOn });
        builder.HasIndex(c => c.HoldsUntil);
    }
}

internal sealed class ConfigureStatusMark : IEntityTypeConfiguration<StatusMark>
{
    public void Configure(EntityTypeBuilder<StatusMark> builder) => builder.ToTable("status_marks").HasNoKey();
}
