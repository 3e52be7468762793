namespace Registry.Records;

public enum SiteKind { Hospital, BirthCenter, Midwife, AudiologyClinic, InterventionProgram, VitalRecords }

/// <summary>A place that reports: a birthing site, an audiology clinic, an early-intervention program.</summary>
public sealed class Site
{
    public SiteId Id { get; init; }

    /// <summary>Short stable code used in files and URLs, e.g. <c>harrow-point</c>.</summary>
    public required string Code { get; init; }
    public required string Name { get; set; }
    public required string County { get; set; }
    public SiteKind Kind { get; set; }
    public bool HasNicu { get; set; }
    public bool Active { get; set; } = true;
}

/// <summary>A key a site's systems authenticate with. Only its SHA-256 is kept; the prefix lets people tell keys apart.</summary>
public sealed class SiteKey
{
    public Guid Id { get; init; }
    public SiteId SiteId { get; init; }
    public required string Name { get; set; }
    public required string Prefix { get; init; }
    public required byte[] Sha256 { get; init; }
    public DateTimeOffset CreatedAt { get; init; }
    public DateTimeOffset? RevokedAt { get; set; }
    public DateTimeOffset? LastUsedAt { get; set; }
}
