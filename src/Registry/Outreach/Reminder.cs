using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;
using Registry.Rules;

namespace Registry.Outreach;

/// <summary>
/// <c>Queued → Sending → Sent</c>, or <c>Written</c> to a file where there is no mail server, or <c>Failed</c>, or <c>Withdrawn</c> when
/// the step was done or the family may no longer be written to.
/// <c>Sending</c> is committed before the mail server is asked. A worker killed between the server's answer and the mark leaves it there:
/// whether the message left is then unknown, so it is never sent again by itself but shown as failed for a coordinator to decide.
/// </summary>
public enum ReminderState { Queued, Sending, Sent, Failed, Withdrawn, Written }

/// <summary>One message to one family about one due step. Its letter is rendered when sent and says nothing about the child.</summary>
public sealed class Reminder
{
    public Guid Id { get; init; }
    public InfantId InfantId { get; init; }
    public DueStep Step { get; init; }
    public DateOnly DueOn { get; init; }

    /// <summary>1 for the first reminder about this step, 2 for the first repeat, …</summary>
    public int Ordinal { get; init; }
    public ReminderState State { get; set; }
    public DateTimeOffset QueuedAt { get; init; }

    /// <summary>Not before; moved on after a temporary refusal by the mail server.</summary>
    public DateTimeOffset NotBefore { get; set; }
    public DateTimeOffset? SendingAt { get; set; }
    public DateTimeOffset? SentAt { get; set; }
    public int Attempts { get; set; }

    /// <summary>A kind of error; never the server's text, which may repeat the address.</summary>
    public string? LastError { get; set; }

    /// <summary>Random; the link in the letter that ends all reminders about this infant. Says nothing about anybody.</summary>
    public required string StopToken { get; init; }
}

/// <summary>A family asked for no more e-mail about this infant (45 CFR 164.522(b) asks to honour such requests).</summary>
public sealed class MailStop
{
    public InfantId InfantId { get; init; }
    public DateTimeOffset StoppedAt { get; init; }
}

internal sealed class ConfigureReminder : IEntityTypeConfiguration<Reminder>
{
    public void Configure(EntityTypeBuilder<Reminder> builder)
    {
        builder.ToTable("reminders");
        builder.HasIndex(r => new { r.InfantId, r.Step, r.DueOn, r.Ordinal }).IsUnique();
        builder.HasIndex(r => r.StopToken).IsUnique();
        builder.HasIndex(r => r.State);
        builder.HasOne<Infant>().WithMany().HasForeignKey(r => r.InfantId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureMailStop : IEntityTypeConfiguration<MailStop>
{
    public void Configure(EntityTypeBuilder<MailStop> builder)
    {
        builder.ToTable("mail_stops");
        builder.HasKey(s => s.InfantId);
    }
}

/// <summary>The slice's own tables of the one database.</summary>
public static class OutreachTables
{
    extension(RegistryDb db)
    {
        public DbSet<Reminder> Reminders => db.Set<Reminder>();
        public DbSet<MailStop> MailStops => db.Set<MailStop>();
    }
}
