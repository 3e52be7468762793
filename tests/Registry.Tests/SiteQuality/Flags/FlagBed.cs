using Registry.Records;
using Registry.Rules.Quality;
using Registry.SiteQuality;
using Registry.Tests.Intake;

namespace Registry.Tests.SiteQuality.Flags;

/// <summary>Flags as the nightly comparison would have raised them, without the infants behind them.</summary>
internal static class FlagBed
{
    public const string Birth = "kind,record_number,birth_date,sex\nbirth,HARBOUR-1,2026-09-01,female\n";

    public static QualityFinding Flag(SiteId site, string name = "P9", DateOnly? found = null, CauseKind cause = CauseKind.Probe,
        DateOnly? onset = null, SessionMeasure measure = SessionMeasure.NoSeal, DateOnly? closed = null, bool above = true,
        DateOnly? recorded = null, (int Of, int With)? counted = null) => new()
        {
            Id = Guid.CreateVersion7(),
            SiteId = site,
            Cause = cause,
            Name = name,
            FoundCause = cause,
            FoundName = name,
            Namings = [Naming(cause, name, recorded ?? found ?? new(2026, 11, 20), onset ?? new(2026, 11, 1))],
            Measure = measure,
            Above = above,
            FoundOn = found ?? new(2026, 11, 20),
            RecordedOn = recorded ?? found ?? new(2026, 11, 20),
            AsOf = new(2026, 11, 25),
            OnsetOn = onset ?? new(2026, 11, 1),
            OnsetFirst = (onset ?? new(2026, 11, 1)).AddDays(-4),
            OnsetLast = (onset ?? new(2026, 11, 1)).AddDays(4),
            Denominator = counted?.Of ?? 40,
            Numerator = counted?.With ?? 19,
            Expected = 4.2,
            Sure = 0.97,
            Explained = 0.8,
            ExplainedLeast = 0.6,
            ExplainedMost = 0.95,
            PolicyVersion = "2026-1",
            WatchedFrom = new(2025, 10, 1),
            ClosedOn = closed,
        };

    public static FlagNaming Naming(CauseKind cause, string name, DateOnly on, DateOnly onset) => new()
    {
        On = on,
        Part = new(cause, name),
        OnsetOn = onset,
        OnsetFirst = onset.AddDays(-4),
        OnsetLast = onset.AddDays(4),
        Sure = 0.97,
    };

    public static async Task<Guid> AddAsync(IntakeBed bed, QualityFinding flag)
    {
        await using var db = bed.App.OpenDb();
        db.QualityFindings.Add(flag);
        await db.SaveChangesAsync(IntakeBed.Ct);
        return flag.Id;
    }
}
