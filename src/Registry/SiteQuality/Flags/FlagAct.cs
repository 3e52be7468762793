using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.SiteQuality.Flags;

/// <summary>What somebody did about a flag.</summary>
public enum FlagActKind
{
    Seen,

    /// <summary>Said what is behind it.</summary>
    Explained,

    /// <summary>Did something about it, on a day.</summary>
    Acted,

    /// <summary>Will look at it again, until a day.</summary>
    Watched,

    /// <summary>Closed it, for a reason: evidence is collected anew from the next day on.</summary>
    Closed,
    Reopened,

    /// <summary>Took an act back that was a mistake.</summary>
    TakenBack,
}

/// <summary>Why a flag was closed.</summary>
public enum ClosingReason
{
    /// <summary>Something was wrong, and is put right.</summary>
    PutRight,

    /// <summary>The infants or the protocol differ, and nothing is wrong.</summary>
    Explained,

    /// <summary>Looked at, and nothing was found.</summary>
    NothingFound,

    /// <summary>It stands on results that were recorded wrongly.</summary>
    RecordedInError,
}

/// <summary>One thing somebody did about a flag. Added, never changed: a mistake is taken back by another act.</summary>
public sealed class FlagAct
{
    public Guid FindingId { get; init; }

    /// <summary>From 1. Two people who saw the same state cannot both add the next.</summary>
    public int Number { get; init; }
    public FlagActKind Kind { get; init; }
    public DateTimeOffset At { get; init; }
    public Guid PersonId { get; init; }

    /// <summary>The day something was done on, or until which it is watched.</summary>
    public DateOnly? Day { get; init; }
    public ClosingReason? Reason { get; init; }

    /// <summary>In their own words, encrypted: somebody may write who somebody is.</summary>
    public string? Words { get; init; }

    /// <summary>The act that is taken back.</summary>
    public int? TakesBack { get; init; }
}

internal sealed class ConfigureFlagAct : IEntityTypeConfiguration<FlagAct>
{
    public void Configure(EntityTypeBuilder<FlagAct> builder)
    {
        builder.ToTable("flag_acts");
        builder.HasKey(a => new { a.FindingId, a.Number });
        builder.HasOne<QualityFinding>().WithMany().HasForeignKey(a => a.FindingId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Person>().WithMany().HasForeignKey(a => a.PersonId).OnDelete(DeleteBehavior.Restrict);
    }
}
