namespace Registry.Records;

/// <summary>
/// One version of how a site's own columns are read. Versions are only ever added: the newest of a
/// <see cref="MappingId"/> is in force, taking one back repeats an earlier one, and a submission names the version it was read with.
/// </summary>
public sealed class ColumnMappingVersion
{
    public Guid Id { get; init; }

    /// <summary>What the versions of one mapping share.</summary>
    public Guid MappingId { get; init; }
    public int Version { get; init; }
    public SiteId SiteId { get; init; }

    /// <summary>What senders call it in <c>?mapping=</c>, unique among the mappings of a site in force.</summary>
    public required string Name { get; init; }

    /// <summary>SHA-256 of the header it was made from: a file with this header is read with it unasked.</summary>
    public required byte[] HeaderSha256 { get; init; }

    /// <summary>JSON: columns (header, field, date form, codes) and fixed values.</summary>
    public required string Document { get; init; }

    /// <summary>Out of use from this version on.</summary>
    public bool Retired { get; init; }
    public DateTimeOffset CreatedAt { get; init; }
    public Guid CreatedBy { get; init; }
}
