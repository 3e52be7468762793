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

/// <summary>What a key opens. <c>Send</c>: sending the site's rows and following what became of them. <c>SendAndRead</c>: also reading
/// infants' records the site may see, over FHIR.</summary>
public enum KeyScope { Send, SendAndRead }

/// <summary>A key a site's systems authenticate with. Only its SHA-256 is kept; the prefix lets people tell keys apart.</summary>
public sealed class SiteKey
{
    public Guid Id { get; init; }
    public SiteId SiteId { get; init; }
    public required string Name { get; set; }
    public required string Prefix { get; init; }
    public required byte[] Sha256 { get; init; }
    public DateTimeOffset CreatedAt { get; init; }
    public KeyScope Scope { get; init; } = KeyScope.SendAndRead;

    /// <summary>From when on it opens nothing; null: until it is revoked.</summary>
    public DateTimeOffset? ExpiresAt { get; init; }

    /// <summary>Of the demonstration, as public as its password: opens only while the demonstration is on.</summary>
    public bool Demonstration { get; init; }
    public DateTimeOffset? RevokedAt { get; set; }
    public DateTimeOffset? LastUsedAt { get; set; }
}
