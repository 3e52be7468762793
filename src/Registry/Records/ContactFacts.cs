using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Rules.Facts;

namespace Registry.Records;

public sealed class ContactRecord : Fact
{
    public PathStep Step { get; init; }
    public DateOnly AttemptedOn { get; init; }
    public ContactOutcome Outcome { get; init; }
    public ContactChannel? Channel { get; init; }
    public ContactPerson? Person { get; init; }
    public DateOnly? CallAgainOn { get; init; }

    /// <summary>What a person wrote beside it; encrypted.</summary>
    public string? Note { get; init; }

    /// <summary>Who entered it on a page, and in which role: the program's own people call for no site. Null for what a submission
    /// reported.</summary>
    public Guid? EnteredBy { get; init; }
    public Role? EnteredAs { get; init; }

    /// <summary>The key of the form it was sent with: sent twice it is one.</summary>
    public Guid? FormKey { get; init; }
}

internal sealed class ConfigureContact() : ConfigureFact<ContactRecord>("contacts")
{
    public override void Configure(EntityTypeBuilder<ContactRecord> builder)
    {
        base.Configure(builder);
        builder.HasIndex(c => c.FormKey).IsUnique().HasFilter("form_key is not null");
    }
}

/// <summary>What became of an appointment, known by its step and day.</summary>
public sealed class AppointmentRecord : Fact
{
    public PathStep Step { get; init; }
    public DateOnly AppointmentOn { get; init; }
    public AppointmentEvent Kind { get; init; }
    public DateOnly HappenedOn { get; init; }
    public TimeOnly? AppointmentTime { get; init; }

    /// <summary>The clinic or other site, which sees the infant it expects.</summary>
    public SiteId? AppointmentSiteId { get; init; }

    /// <summary>Building, room or street.</summary>
    public string? AppointmentPlace { get; init; }
    public Guid? EnteredBy { get; init; }
    public Role? EnteredAs { get; init; }
    public Guid? FormKey { get; init; }
}

internal sealed class ConfigureAppointment() : ConfigureFact<AppointmentRecord>("appointments")
{
    public override void Configure(EntityTypeBuilder<AppointmentRecord> builder)
    {
        base.Configure(builder);
        builder.HasIndex(a => a.HappenedOn).HasFilter("kind = 'no_show'");
        builder.HasIndex(a => a.FormKey).HasFilter("form_key is not null");
        builder.HasOne<Site>().WithMany().HasForeignKey(a => a.AppointmentSiteId).OnDelete(DeleteBehavior.Restrict);
    }
}
