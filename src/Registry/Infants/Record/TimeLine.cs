using Microsoft.EntityFrameworkCore;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>One reported fact as a line of the time line: what happened when, who said so, when we knew and in which row.</summary>
/// <param name="At">Day (and minute, when reported) it happened.</param>
/// <param name="HasTime">Whether the minute was reported.</param>
/// <param name="SupersededAt">When it stopped being what we hold true, as far as known then; null while it holds.</param>
/// <param name="Measured">What the instrument measured in a test; null when nothing was reported.</param>
/// <param name="Closed">Who corrected or retracted it, in which row; null while it holds, and when it was taken back on a page.</param>
public sealed record TimeLineEntry(
    DateTime At, bool HasTime, string What, string Detail, Fact Fact, string Site, DateTimeOffset? SupersededAt, Closing? Closed,
    TestDetail? Measured = null);

/// <summary>The row that closed a fact.</summary>
public sealed record Closing(RowAction Action, string Site, SubmissionId? SubmissionId, int? RowNumber);

/// <summary>Reads every fact of one infant, superseded ones included, as known at a moment.</summary>
public static class TimeLine
{
    public static async Task<IReadOnlyList<TimeLineEntry>> ReadAsync(RegistryDb db, InfantId id, DateTimeOffset known, CancellationToken ct)
    {
        var sites = await db.Sites.AsNoTracking().ToDictionaryAsync(s => s.Id, s => s.Name, ct);
        var entries = new List<TimeLineEntry>();
        var closings = (await db.Corrections.AsNoTracking()
                .Where(c => c.InfantId == id && c.RecordedAt <= known && (c.SupersededAt == null || c.SupersededAt > known))
                    .ToListAsync(ct))
            .ToDictionary(c => c.FactId, c =>
                new Closing(c.Action, sites.GetValueOrDefault(c.SiteId, "a site"), c.SubmissionId, c.RowNumber));

        var measured = await MeasuredAsync(db, id, ct);

        await AddAsync(db.Births, f => (Day(f.BornOn, f.BornAt), f.BornAt is not null, "Birth", Join(
            Words.Of(f.Place), f.Sex == Sex.Unknown ? null : Words.Of(f.Sex), f.GestationWeeks is { } w ? $"{w} weeks" : null,
            f.BirthWeightGrams is { } g ? $"{Words.Count(g)} g" : null,
            f.Plurality > 1 ? $"one of {f.Plurality}{(f.BirthOrder is { } order ? $", born as number {order}" : "")}" : null,
            f.NicuAdmittedOn is { } nicu
                ? $"intensive care from {Words.Date(nicu)} to {(f.NicuDischargedOn is null ? "not known" : Words.Date(f.NicuDischargedOn))}"
                : null,
            f.DischargedOn is { } out_ ? $"discharged {Words.Date(out_)}" : null)));
        await AddAsync(db.InfantIdentifiers, f => (f.RecordedAt.LocalDateTime, false, Words.Of(f.Kind), f.Value));
        await AddAsync(db.Screenings, f =>
            (f.PerformedAt, f.PerformedAt.TimeOfDay != TimeSpan.Zero,
            $"Screen, {Words.Of(f.Ear).ToLowerInvariant()} ear: {Outcome(f.Outcome)}", Join(
            Method(f.Method), f.Reason == ScreeningReason.None ? null : Words.Of(f.Reason).ToLowerInvariant(),
            f.Stage == ScreeningStage.Unstated ? null : Words.Of(f.Stage).ToLowerInvariant(),
            f.Instrument is null ? null : $"instrument {f.Instrument}", f.Probe is null ? null : $"probe {f.Probe}",
            f.Screener is null ? null : $"screener {f.Screener}")));
        await AddAsync(db.Diagnoses, f =>
            (Day(f.EvaluatedOn), false, f.Provisional ? "Diagnostic evaluation, provisional" : "Diagnostic evaluation", Join(
            $"right {Finding(f.RightFinding, f.RightDegree)}", $"left {Finding(f.LeftFinding, f.LeftDegree)}",
            f.Permanent switch { true => "expected to be permanent", false => "not expected to be permanent", _ => null })));
        await AddAsync(db.Interventions, f => (Day(f.HappenedOn), false, "Early intervention", Words.Of(f.Kind)));
        await AddAsync(db.Deaths, f => (Day(f.DiedOn), false, "Death", ""));
        await AddAsync(db.Moves, f => (Day(f.MovedOn), false, "Move", Words.Of(f.Kind)));
        await AddAsync(db.Transfers, f =>
            (Day(f.TransferredOn), false, "Care passed on", "to " + sites.GetValueOrDefault(f.ToSiteId, "a site")));
        await AddAsync(db.Refusals, f => (Day(f.RefusedOn), false, $"Refusal of {Words.Of(f.Step).ToLowerInvariant()}",
            f.RevokedOn is { } revoked ? $"revoked {Words.Date(revoked)}" : ""));
        await AddAsync(db.Risks, f => (Day(f.NotedOn), false, "Risk indicator", Words.Of(f.Kind)));
        await AddAsync(db.Readmissions, f => (Day(f.AdmittedOn), false, "Readmission", Join(
            f.DischargedOn is { } d ? $"discharged {Words.Date(d)}" : null, f.RaisesRisk ? "with a condition that raises risk" : null)));
        await AddAsync(db.MedicalDelays, f => (Day(f.FromOn), false, $"Medical reason to delay {Words.Of(f.Step).ToLowerInvariant()}",
            f.EndedOn is { } e ? $"ended {Words.Date(e)}" : "still holds"));
        await AddAsync(db.Contacts, f =>
            (Day(f.AttemptedOn), false, $"Contact about {Words.Of(f.Step).ToLowerInvariant()}", Words.Of(f.Outcome)));

        return [.. entries.OrderByDescending(e => e.At).ThenByDescending(e => e.Fact.RecordedAt)
            .ThenBy(e => e.What, StringComparer.Ordinal)];

        async Task AddAsync<T>(DbSet<T> set, Func<T, (DateTime At, bool HasTime, string What, string Detail)> describe) where T : Fact
        {
            foreach (var fact in await set.AsNoTracking().Where(f => f.InfantId == id && f.RecordedAt <= known).ToListAsync(ct))
            {
                var (at, hasTime, what, detail) = describe(fact);
                entries.Add(new(at, hasTime, what, detail, fact, sites.GetValueOrDefault(fact.SiteId, "a site"),
                    fact.SupersededAt <= known ? fact.SupersededAt : null, closings.GetValueOrDefault(fact.Id),
                    measured.GetValueOrDefault(fact.Id)));
            }
        }
    }

    private static async Task<Dictionary<Guid, TestDetail>> MeasuredAsync(RegistryDb db, InfantId id, CancellationToken ct)
    {
        var ids = db.Screenings.Where(s => s.InfantId == id).Select(s => s.Id);
        var bands = (await db.ScreeningBands.AsNoTracking().Where(b => ids.Contains(b.ScreeningId)).ToListAsync(ct))
            .ToLookup(b => b.ScreeningId, b => new TestBand(b.FrequencyHz, b.LevelDbSpl, b.NoiseDbSpl, b.SnrDb));
        return (await db.ScreeningDetails.AsNoTracking().Where(d => ids.Contains(d.ScreeningId)).ToListAsync(ct))
            .ToDictionary(d => d.ScreeningId, d => new TestDetail
            {
                Stimulus = d.Stimulus,
                DurationSeconds = d.DurationSeconds,
                ArtefactsRejected = d.ArtefactsRejected,
                EarCanalVolumeMl = d.EarCanalVolumeMl,
                AmbientNoiseDb = d.AmbientNoiseDb,
                Bands = [.. bands[d.ScreeningId]],
            });
    }

    private static DateTime Day(DateOnly day, TimeOnly? time = null) => day.ToDateTime(time ?? TimeOnly.MinValue);

    private static string Join(params string?[] parts) => string.Join(" · ", parts.Where(p => !string.IsNullOrEmpty(p)));

    private static string Outcome(ScreeningOutcome outcome) => Words.Of(outcome).ToLowerInvariant();

    private static string Method(ScreeningMethod method) => method switch
    {
        ScreeningMethod.Unknown => "method not stated",
        ScreeningMethod.Oae => "otoacoustic emissions",
        ScreeningMethod.Teoae => "transient-evoked otoacoustic emissions",
        ScreeningMethod.Dpoae => "distortion-product otoacoustic emissions",
        ScreeningMethod.Aabr => "automated auditory brainstem response",
        _ => "auditory brainstem response",
    };

    private static string Finding(EarFinding finding, LossDegree degree) =>
        Words.Of(finding).ToLowerInvariant() + (degree == LossDegree.NotStated ? "" : $", {Words.Of(degree).ToLowerInvariant()}");
}
