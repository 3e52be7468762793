using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Rules.Facts;

namespace Registry.Records;

/// <summary>To whom an infant is handed: an audiology clinic or another site that sees it, an early-intervention program, the family's
/// medical home, or the program of another state. The last two have no account here.</summary>
public enum HandOffKind { Clinic, InterventionProgram, MedicalHome, OtherState }

/// <summary>Where a hand-off is.</summary>
public enum HandOffState { Sent, Received, Accepted, Returned, Withdrawn }

/// <summary>What somebody did about a hand-off.</summary>
public enum HandOffAct
{
    Sent,

    /// <summary>It arrived, and somebody looks at it.</summary>
    Received,

    /// <summary>They take the infant on.</summary>
    Accepted,
    Returned,

    /// <summary>Who sent it takes it back.</summary>
    Withdrawn,

    /// <summary>The family consented in writing that what is known is exchanged.</summary>
    ConsentRecorded,
}

/// <summary>Why a hand-off came back, or was taken back.</summary>
public enum HandOffReason
{
    NotOurArea, NoCapacity, FamilyNotReached, FamilyDeclined, AlreadyElsewhere, WrongInfant, SentByMistake, Other,
}

/// <summary>
/// An infant was handed to somebody. What it is never changes; where it is follows its events (<see cref="HandOffEvent"/>) and is kept
/// beside them. While it stands and is shown, the receiving site sees the infant (<c>Access/InfantSites</c>).
/// </summary>
public sealed class HandOff
{
    public Guid Id { get; init; }
    public InfantId InfantId { get; init; }
    public HandOffKind Kind { get; init; }
    public PathStep Step { get; init; }

    /// <summary>Null for whoever has no site here.</summary>
    public SiteId? ToSiteId { get; init; }

    /// <summary>Who that is, encrypted.</summary>
    public string? ToName { get; init; }

    /// <summary>The person there whom it is for, encrypted; null: nobody named.</summary>
    public string? ForWhom { get; init; }
    public DateTimeOffset SentAt { get; init; }
    public Guid SentBy { get; init; }
    public Role SentAs { get; init; }

    /// <summary>The site it was sent for.</summary>
    public SiteId SentForSiteId { get; init; }

    /// <summary>The last day its receipt is in time.</summary>
    public DateOnly AcknowledgeBy { get; init; }
    public HandOffState State { get; set; }
    public DateOnly? AcknowledgedOn { get; set; }

    /// <summary>The day the family consented in writing.</summary>
    public DateOnly? ConsentOn { get; set; }

    /// <summary>The site that sees the infant by it; null for an early-intervention program before consent.</summary>
    public SiteId? ShownToSiteId { get; set; }

    /// <summary>When it came back or was withdrawn: from then on it opens nothing.</summary>
    public DateTimeOffset? SupersededAt { get; set; }

    /// <summary>The key of the form it was sent with: sent twice it is one.</summary>
    public Guid FormKey { get; init; }
}

/// <summary>One thing that happened to a hand-off: who did what, when. Append-only.</summary>
public sealed class HandOffEvent
{
    public long Id { get; init; }
    public Guid HandOffId { get; init; }
    public HandOffAct Act { get; init; }
    public DateTimeOffset At { get; init; }

    /// <summary>Null: it came by a link, from somebody without an account.</summary>
    public Guid? PersonId { get; init; }
    public Role? Role { get; init; }
    public SiteId? SiteId { get; init; }
    public HandOffReason? Reason { get; init; }
}

internal sealed class ConfigureHandOff : IEntityTypeConfiguration<HandOff>
{
    private const string Stands = "superseded_at is null";

    public void Configure(EntityTypeBuilder<HandOff> builder)
    {
        builder.ToTable("hand_offs");
        builder.HasIndex(h => h.InfantId);
        builder.HasIndex(h => new { h.ToSiteId, h.State }).HasFilter(Stands);
        builder.HasIndex(h => h.AcknowledgeBy);
        builder.HasIndex(h => h.FormKey).IsUnique();
        builder.HasOne<Infant>().WithMany().HasForeignKey(h => h.InfantId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(h => h.ToSiteId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(h => h.SentForSiteId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(h => h.ShownToSiteId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Person>().WithMany().HasForeignKey(h => h.SentBy).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureHandOffEvent : IEntityTypeConfiguration<HandOffEvent>
{
    public void Configure(EntityTypeBuilder<HandOffEvent> builder)
    {
        builder.ToTable("hand_off_events");
        builder.HasIndex(e => e.HandOffId);
        builder.HasOne<HandOff>().WithMany().HasForeignKey(e => e.HandOffId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Person>().WithMany().HasForeignKey(e => e.PersonId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(e => e.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}
