using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Rules.Facts;

namespace Registry.Records;

/// <summary>What is asked of a clinic or program: the result of an infant it saw, or whether a hand-off arrived.</summary>
public enum AnswerPurpose { Result, Acknowledgement }

/// <summary>
/// A question to a clinic or program about one infant. One with an account finds it on its home; who has none answers on a one-page form
/// behind a link that opens once, for some time. Of the link only the SHA-256 is kept.
/// </summary>
public sealed class AnswerRequest
{
    public Guid Id { get; init; }
    public InfantId InfantId { get; init; }
    public AnswerPurpose Purpose { get; init; }
    public PathStep Step { get; init; }

    /// <summary>Who is asked; null for somebody who has no site here and acknowledges a hand-off.</summary>
    public SiteId? ToSiteId { get; init; }

    /// <summary>The hand-off that is to be acknowledged.</summary>
    public Guid? HandOffId { get; init; }
    public DateTimeOffset AskedAt { get; init; }
    public Guid AskedBy { get; init; }

    /// <summary>Null: no link was made.</summary>
    public byte[]? TokenSha256 { get; init; }
    public DateTimeOffset EndsAt { get; init; }

    /// <summary>How often a wrong birth date was given.</summary>
    public int Tries { get; set; }
    public DateTimeOffset? AnsweredAt { get; set; }
    public DateTimeOffset? RevokedAt { get; set; }

    /// <summary>What was sent by the link, as a submission like any other.</summary>
    public SubmissionId? SubmissionId { get; set; }
}

internal sealed class ConfigureAnswerRequest : IEntityTypeConfiguration<AnswerRequest>
{
    public void Configure(EntityTypeBuilder<AnswerRequest> builder)
    {
        builder.ToTable("answer_requests");
        builder.HasIndex(r => r.TokenSha256).IsUnique();
        builder.HasIndex(r => r.InfantId);
        builder.HasIndex(r => r.ToSiteId).HasFilter("answered_at is null and revoked_at is null");
        builder.HasOne<Infant>().WithMany().HasForeignKey(r => r.InfantId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(r => r.ToSiteId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<HandOff>().WithMany().HasForeignKey(r => r.HandOffId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Person>().WithMany().HasForeignKey(r => r.AskedBy).OnDelete(DeleteBehavior.Restrict);
    }
}
