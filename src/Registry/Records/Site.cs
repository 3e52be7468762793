namespace Registry.Records;

public enum SiteKind { Hospital, BirthCenter, Midwife, AudiologyClinic, InterventionProgram, VitalRecords }

public static class SiteKinds
{
    /// <summary>Infants are born there, and tested before discharge.</summary>
    public static bool HasBirths(this SiteKind kind) => kind is SiteKind.Hospital or SiteKind.BirthCenter or SiteKind.Midwife;
}

/// <summary>What newborn care a birthing site gives: levels I to IV of the American Academy of Pediatrics (policy statement "Levels of
/// Neonatal Care", Pediatrics 2012;130:587).</summary>
public enum CareLevel { LevelOne, LevelTwo, LevelThree, LevelFour }

/// <summary>What a clinic does for infants (common practice, no source).</summary>
public enum ClinicService { OutpatientScreen, DiagnosticEvaluation, SedatedAbr, Amplification, CochlearImplants, FamilySupport }

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

    /// <summary>Follows <see cref="ClosedOn"/>: the keys of a closed site open nothing.</summary>
    public bool Active { get; set; } = true;

    /// <summary>Birthing sites.</summary>
    public CareLevel? CareLevel { get; set; }

    /// <summary>As the state numbers its facilities.</summary>
    public string? StateNumber { get; set; }

    /// <summary>National Provider Identifier.</summary>
    public string? Npi { get; set; }

    /// <summary>Who there is called about late data.</summary>
    public string? ContactName { get; set; }
    public string? ContactPhone { get; set; }
    public string? ContactEmail { get; set; }

    /// <summary>Clinics: what they do, as codes of <see cref="ClinicService"/>, and for which ages.</summary>
    public string[] Services { get; set; } = [];
    public int? YoungestMonths { get; set; }
    public int? OldestMonths { get; set; }

    /// <summary>Within how many days of the test it agreed to send nine in ten results; null: as the policy says.</summary>
    public int? ArrivalDays { get; set; }

    /// <summary>Programs: whose families they take.</summary>
    public string[] CountiesServed { get; set; } = [];

    public DateOnly? OpenFrom { get; set; }
    public DateOnly? ClosedOn { get; set; }

    /// <summary>Who is asked about the infants of a closed site.</summary>
    public SiteId? ContinuedBy { get; set; }

    /// <summary>Who changed it last; each change is kept by the database itself (<c>site_changes</c>).</summary>
    public Guid? ChangedBy { get; set; }

    /// <summary>Who is called about late data, in one line; null when nobody is named.</summary>
    public string? Contact
    {
        get
        {
            var said = string.Join(", ", new[] { ContactName, ContactPhone ?? ContactEmail }.Where(c => !string.IsNullOrEmpty(c)));
            return said.Length == 0 ? null : said;
        }
    }
}

/// <summary>Who is called about a site's infants.</summary>
/// <param name="Site">The site they belong to.</param>
/// <param name="Called">The site that is called: itself, or who continues it; null: nobody, so the program itself.</param>
/// <param name="Contact">Whom to ask for there, and the number; null when nobody is named.</param>
public sealed record SiteContact(string Site, string? Called, string? Contact)
{
    public static SiteContact Of(Site site, IReadOnlyDictionary<SiteId, Site> sites)
    {
        // Who continues it may be closed by now, and continued by another.
        Site? called = site;
        for (var steps = 0; called is { Active: false } && steps <= sites.Count; steps++)
            called = called.ContinuedBy is { } next ? sites.GetValueOrDefault(next) : null;
        if (called is { Active: false }) called = null;
        return new(site.Name, called?.Name, called?.Contact);
    }
}

/// <summary>What a key opens. <c>Send</c>: sending the site's rows and following what became of them. <c>SendAndRead</c>: also reading
/// infants' records the site may see, over FHIR. <c>Read</c>: that alone.</summary>
public enum KeyScope { Send, SendAndRead, Read }

/// <summary>What a site's system comes in by: a secret, of which only the SHA-256 is kept and a prefix by which people tell keys apart; or
/// a signature, checked by the system's public keys.</summary>
public sealed class SiteKey
{
    public Guid Id { get; init; }
    public SiteId SiteId { get; init; }
    public required string Name { get; set; }
    public required string Prefix { get; init; }

    /// <summary>Of the secret; null for a system that signs.</summary>
    public byte[]? Sha256 { get; init; }

    /// <summary>A JSON Web Key Set (RFC 7517) that a system's signatures are checked by; null: it has a secret.</summary>
    public string? PublicKeys { get; set; }

    /// <summary>SHA-256 fingerprints of client certificates; where there is one, the key opens nothing without it.</summary>
    public string[] Certificates { get; set; } = [];
    public DateTimeOffset CreatedAt { get; init; }
    public KeyScope Scope { get; init; } = KeyScope.SendAndRead;

    /// <summary>From when on it opens nothing; null: until it is revoked.</summary>
    public DateTimeOffset? ExpiresAt { get; set; }

    /// <summary>The key that took its place; this one opens until <see cref="ExpiresAt"/>, so that a system can change over.</summary>
    public Guid? ReplacedBy { get; set; }

    /// <summary>When people were told that it runs out.</summary>
    public DateTimeOffset? ToldAt { get; set; }

    /// <summary>Of the demonstration, as public as its password: opens only while the demonstration is on.</summary>
    public bool Demonstration { get; init; }
    public DateTimeOffset? RevokedAt { get; set; }
    public DateTimeOffset? LastUsedAt { get; set; }

    /// <summary>The network address of its last use.</summary>
    public string? LastUsedFrom { get; set; }

    /// <summary>What people call it by. The id of a system that signs is no secret: it is its <c>client_id</c>.</summary>
    public string Shown => PublicKeys is null ? $"{Prefix}…" : Id.ToString();
}
