using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.Access;

/// <summary>What an entry of the access trail says happened.</summary>
public enum AccessKind
{
    /// <summary>Infants were shown or sent.</summary>
    Read,

    /// <summary>A page or endpoint was asked for by somebody whose role does not permit it.</summary>
    Denied,

    /// <summary>An infant was asked for that the viewer may not see, or that does not exist: both are answered alike.</summary>
    NotShown,
    SignedIn,
    SignInFailed,
    SignedOut,
    KeyIssued,
    KeyRevoked,

    /// <summary>A system's public keys or the certificates it must show were changed; the note says which.</summary>
    KeyChanged,

    /// <summary>A key was presented that is unknown or revoked, without the certificate it demands, or an assertion that proves
    /// nothing.</summary>
    KeyRefused,

    /// <summary>A system that signs was given a token; the note says for what.</summary>
    TokenIssued,

    /// <summary>A person was invited, placed, disabled or asked to choose a password, or such a change taken back; the note says
    /// which.</summary>
    PersonChanged,

    /// <summary>A second factor was shown, set, or taken away; the note says which.</summary>
    SecondFactor,
    SecondFactorFailed,

    /// <summary>A link that opens one page once was used.</summary>
    LinkUsed,

    /// <summary>A site, clinic or program was added or changed.</summary>
    PlaceChanged,

    /// <summary>The program stated its name, time zone or contacts anew.</summary>
    ProgramChanged,
    PolicyScheduled,
    PolicyTakenBack,

    /// <summary>A person started a job by hand.</summary>
    JobStarted,

    /// <summary>A recurring job ended; the note says which and how.</summary>
    JobEnded,
    /// <summary>An infant was given to a case worker, or taken from one; the note says which.</summary>
    InfantAssigned,

    /// <summary>The de-identified extract was taken, of every infant.</summary>
    ExtractTaken,

    /// <summary>Somebody opened a record that is not shown to them, for a stated reason; it closed by itself unless closed.</summary>
    GlassBroken,
    GlassClosed,

    /// <summary>What somebody said of a child to break the glass led to no record, or they tried too often.</summary>
    GlassRefused,

    /// <summary>An infant was handed off, or somebody answered that; the note says which.</summary>
    HandedOff,

    /// <summary>A clinic or program was asked about an infant; the note says what became of that.</summary>
    AnswerAsked,

    /// <summary>A link for an answer was given a wrong birth date, or opens nothing.</summary>
    AnswerRefused,

    /// <summary>Somebody searched for a family, or took that back; the note says what it brought.</summary>
    SearchedFor,

    /// <summary>Work about an infant was closed, or opened again; the note says why.</summary>
    WorkClosed,

    /// <summary>A clinic's openings were stated, or one withdrawn; the note says which.</summary>
    OpeningsStated,
    ErasureAsked,
    ErasureRefused,
    Erased,

    /// <summary>Somebody did something about a flag, or recorded or took back an event of equipment; the note says which.</summary>
    FlagActedOn,
    EquipmentRecorded,
}

/// <summary>One entry of the access trail: who did what, when, from where, through which page or endpoint, and to whom. Append-only, and
/// chained: each holds the hash of what it says and of the entry before (docs/trail.md). Holds ids, codes and dates, never a person's
/// values.</summary>
public sealed class AccessRecord
{
    public long Id { get; init; }

    /// <summary>Set when it is put to the trail; never before the entry before it.</summary>
    public DateTimeOffset At { get; set; }
    public AccessKind Kind { get; init; }
    public Guid? PersonId { get; init; }
    public Guid? SiteKeyId { get; init; }

    /// <summary>The method and route pattern, never a URL with values; empty for what no request did.</summary>
    public required string Action { get; init; }

    /// <summary>Which of a page's handlers.</summary>
    public string? Handler { get; init; }

    /// <summary>What a list was asked for: names and codes of the filter.</summary>
    public string? Filter { get; init; }

    /// <summary>The infant a record was of.</summary>
    public InfantId? InfantId { get; init; }

    /// <summary>How many infants or rows were shown.</summary>
    public int InfantCount { get; init; }

    /// <summary>The infants of a list or export, in order of their ids.</summary>
    public Guid[]? Infants { get; init; }

    /// <summary>The key, person or draft it is about.</summary>
    public Guid? SubjectId { get; init; }

    /// <summary>A code or name: of a job and its outcome, of a policy version.</summary>
    public string? Note { get; init; }

    /// <summary>The caller's network address.</summary>
    public string? Address { get; init; }

    /// <summary>SHA-256 over the hash of the entry before and this entry (<see cref="ChainTrail"/>).</summary>
    public byte[]? Hash { get; set; }
}

internal sealed class ConfigureAccessRecord : IEntityTypeConfiguration<AccessRecord>
{
    public void Configure(EntityTypeBuilder<AccessRecord> builder)
    {
        builder.ToTable("access_records");
        builder.HasIndex(a => a.InfantId);
        builder.HasIndex(a => a.At);
        builder.HasIndex(a => a.Infants).HasMethod("gin");
        builder.HasIndex(a => new { a.Kind, a.Id });
    }
}

/// <summary>The end of a day of the trail, as it was written to the log and mailed: who rewrites the trail must rewrite those
/// too.</summary>
public sealed class TrailDigest
{
    public DateOnly Day { get; init; }

    /// <summary>The last entry, how many came since the digest before, and the hash of the last.</summary>
    public long LastId { get; init; }
    public int Entries { get; init; }
    public required byte[] Hash { get; init; }
    public DateTimeOffset WrittenAt { get; init; }
}

internal sealed class ConfigureTrailDigest : IEntityTypeConfiguration<TrailDigest>
{
    public void Configure(EntityTypeBuilder<TrailDigest> builder)
    {
        builder.ToTable("trail_digests");
        builder.HasKey(d => d.Day);
    }
}

/// <summary>The slice's own tables of the one database.</summary>
public static class AccessTables
{
    extension(RegistryDb db)
    {
        public DbSet<AccessRecord> AccessRecords => db.Set<AccessRecord>();
        public DbSet<Session> Sessions => db.Set<Session>();
        public DbSet<OneTimeLink> OneTimeLinks => db.Set<OneTimeLink>();
        public DbSet<TrailDigest> TrailDigests => db.Set<TrailDigest>();
        public DbSet<InfantAssignment> InfantAssignments => db.Set<InfantAssignment>();
        public DbSet<OpenedGlass> OpenedGlasses => db.Set<OpenedGlass>();
    }
}
