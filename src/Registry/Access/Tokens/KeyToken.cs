using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.Access.Tokens;

/// <summary>An assertion a system showed, which is taken once, and the token it was given for it: some minutes of what its key opens. Kept
/// until neither could be shown any more; of both only the SHA-256.</summary>
public sealed class KeyToken
{
    public Guid Id { get; init; }
    public Guid SiteKeyId { get; init; }
    public required byte[] AssertionSha256 { get; init; }

    /// <summary>Null where none was given: the assertion was right, and asked for more than the key opens.</summary>
    public byte[]? TokenSha256 { get; init; }
    public KeyScope? Scope { get; init; }
    public DateTimeOffset IssuedAt { get; init; }
    public DateTimeOffset EndsAt { get; init; }
}

internal sealed class ConfigureKeyToken : IEntityTypeConfiguration<KeyToken>
{
    public void Configure(EntityTypeBuilder<KeyToken> builder)
    {
        builder.ToTable("key_tokens");
        builder.HasIndex(t => t.TokenSha256).IsUnique();
        builder.HasIndex(t => new { t.SiteKeyId, t.AssertionSha256 }).IsUnique();
        builder.HasOne<SiteKey>().WithMany().HasForeignKey(t => t.SiteKeyId).OnDelete(DeleteBehavior.Restrict);
    }
}
