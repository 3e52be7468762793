using System.Security.Cryptography;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.HandOffs;
using Registry.Infants.Statuses;
using Registry.Platform.Encryption;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.Demo;

/// <summary>What the program's office handed to a clinic, to early intervention and to a family doctor, what they said of it, and the
/// appointments it made; days count back from the anchor day. Written as its pages write it.</summary>
internal static class HandOffHistory
{
    /// <summary>The clinic somebody can be in the demonstration.</summary>
    public const string Clinic = "lind-hearing";
    private const string Doctor = "Dr. Ottoline Harrowgate";

    /// <summary>One of each state: just sent, sent and forgotten, looked at, taken on, sent back; to the program with and without the
    /// family's consent.</summary>
    private static readonly (HandOffKind Kind, HandOffState State, int DaysAgo, bool Consent)[] Handed =
    [
        (HandOffKind.Clinic, HandOffState.Sent, 1, false),
        (HandOffKind.Clinic, HandOffState.Sent, 12, false),
        (HandOffKind.Clinic, HandOffState.Received, 3, false),
        (HandOffKind.Clinic, HandOffState.Accepted, 9, false),
        (HandOffKind.Clinic, HandOffState.Returned, 6, false),
        (HandOffKind.InterventionProgram, HandOffState.Sent, 2, false),
        (HandOffKind.InterventionProgram, HandOffState.Sent, 15, false),
        (HandOffKind.InterventionProgram, HandOffState.Received, 5, true),
        (HandOffKind.InterventionProgram, HandOffState.Accepted, 11, true),
        (HandOffKind.MedicalHome, HandOffState.Sent, 4, false),
    ];

    /// <summary>Appointments at the clinic, in days from the anchor day: two today, one passed without a result.</summary>
    private static readonly (int Day, TimeOnly Time)[] Booked = [(0, new(9, 30)), (0, new(14, 0)), (2, new(10, 15)), (-8, new(11, 0))];

    public static async Task EnsureAsync(IServiceProvider services, DemoRegion region, IReadOnlyDictionary<string, SiteId> sites,
        CancellationToken ct)
    {
        await using var scope = services.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        if (await db.HandOffs.AnyAsync(ct)) return;
        var policy = await services.GetRequiredService<PolicyStore>().InForceAsync(region.Anchor, ct);
        var writing = new Writing(db, region.Anchor, policy, sites, await db.Users.Where(p => p.Demonstration).ToListAsync(ct));
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        var evaluations = await WaitingAsync(db, DueStep.DiagnosticEvaluation, [.. SitesOfLind(sites)], ct);
        var enrollments = await WaitingAsync(db, DueStep.EnrolInIntervention, [.. sites.Values], ct);
        foreach (var handed in Handed)
        {
            var waiting = handed.Kind == HandOffKind.InterventionProgram ? enrollments : evaluations;
            if (waiting.TryDequeue(out var infant)) writing.Hand(infant, handed.Kind, handed.State, handed.DaysAgo, handed.Consent);
        }

        foreach (var (day, time) in Booked)
            if (evaluations.TryDequeue(out var infant)) writing.Book(infant, day, time);
        await db.SaveChangesAsync(ct);
        await RecomputeStatuses.ForInfantsAsync(
            (NpgsqlConnection)db.Database.GetDbConnection(), writing.About, region.Anchor, policy, ct);
        await transaction.CommitAsync(ct);
    }

    private static IEnumerable<SiteId> SitesOfLind(IReadOnlyDictionary<string, SiteId> sites) =>
        Places.Birthing.Where(p => p.County == Places.Of(Clinic).County).Select(p => sites[p.Code]);

    /// <summary>Whom a step waits for at some sites, the youngest first; the arranged families stay as they are said to stand.</summary>
    private static async Task<Queue<InfantStatusRow>> WaitingAsync(
        RegistryDb db, DueStep step, SiteId[] birthSites, CancellationToken ct) =>
        new(await (
            from s in db.InfantStatuses.AsNoTracking()
            join i in db.InfantIdentifiers on s.InfantId equals i.InfantId
            where s.NextStep == step && birthSites.Contains(s.BirthSiteId) && i.SiteId == s.BirthSiteId
                && i.Kind == IdentifierKind.RecordNumber && i.SupersededAt == null && !i.Value.StartsWith("WORK-")
            orderby s.BornOn descending, i.Value
            select s).Take(Handed.Length + Booked.Length).ToListAsync(ct));

    private sealed class Writing(
        RegistryDb db, DateOnly anchor, Policy policy, IReadOnlyDictionary<string, SiteId> sites, IReadOnlyList<Person> people)
    {
        private readonly Person _office = people.First(p => p.Role == Role.Coordinator);

        /// <summary>Whose work is to be sorted anew.</summary>
        public List<Guid> About { get; } = [];

        public void Hand(InfantStatusRow infant, HandOffKind kind, HandOffState state, int daysAgo, bool consent)
        {
            var to = kind switch
            {
                HandOffKind.Clinic => Clinic,
                HandOffKind.InterventionProgram => Places.EarlyIntervention.Code,
                _ => null,
            };
            var site = to is null ? (SiteId?)null : sites[to];
            var sent = anchor.AddDays(-daysAgo);
            var answered = sent.AddDays(1);
            var consented = consent ? sent : (DateOnly?)null;
            var handOff = new HandOff
            {
                Id = Guid.CreateVersion7(),
                InfantId = infant.InfantId,
                Kind = kind,
                Step = kind == HandOffKind.InterventionProgram ? PathStep.Intervention : PathStep.Diagnosis,
                ToSiteId = site,
                ToName = site is null ? FieldKeys.OfProcess.Encrypt(Doctor, SendHandOff.NamePlace) : null,
                SentAt = At(sent, 10),
                SentBy = _office.Id,
                SentAs = _office.Role,
                SentForSiteId = infant.ResponsibleSiteId,
                AcknowledgeBy = sent.AddDays(policy.AcknowledgeDays),
                State = state,
                AcknowledgedOn = state is HandOffState.Received or HandOffState.Accepted ? answered : null,
                ConsentOn = consented,
                ShownToSiteId = SendHandOff.ShownTo(kind, site, consented),
                SupersededAt = state == HandOffState.Returned ? At(answered, 15) : null,
                FormKey = Guid.CreateVersion7(),
            };
            db.HandOffs.Add(handOff);
            Happened(handOff, HandOffAct.Sent, handOff.SentAt, _office);
            if (state != HandOffState.Sent) Answer(handOff, answered);
            if (kind == HandOffKind.MedicalHome) Ask(handOff, AnswerPurpose.Acknowledgement);
            if (kind == HandOffKind.Clinic && state == HandOffState.Accepted) Ask(handOff, AnswerPurpose.Result);
            About.Add(infant.InfantId.Value);
        }

        public void Book(InfantStatusRow infant, int day, TimeOnly time)
        {
            db.Appointments.Add(new()
            {
                Id = Guid.CreateVersion7(),
                InfantId = infant.InfantId,
                SiteId = infant.ResponsibleSiteId,
                RecordedAt = At(anchor.AddDays(Math.Min(day, 0) - 7), 11),
                Step = PathStep.Diagnosis,
                Kind = AppointmentEvent.Made,
                HappenedOn = anchor.AddDays(Math.Min(day, 0) - 7),
                AppointmentOn = anchor.AddDays(day),
                AppointmentTime = time,
                AppointmentSiteId = sites[Clinic],
            });
            About.Add(infant.InfantId.Value);
        }

        private void Answer(HandOff handOff, DateOnly day)
        {
            var by = people.First(p => p.SiteId == handOff.ToSiteId);
            Happened(handOff, handOff.State switch
            {
                HandOffState.Accepted => HandOffAct.Accepted,
                HandOffState.Returned => HandOffAct.Returned,
                _ => HandOffAct.Received,
            }, At(day, 15), by, handOff.State == HandOffState.Returned ? HandOffReason.NoCapacity : null);
            // A program's receipt is a fact: its clock of days runs from it.
            if (handOff.Kind == HandOffKind.InterventionProgram)
                db.Interventions.Add(new()
                {
                    Id = Guid.CreateVersion7(),
                    InfantId = handOff.InfantId,
                    SiteId = handOff.SentForSiteId,
                    RecordedAt = At(day, 15),
                    Kind = InterventionKind.ReferralReceived,
                    HappenedOn = day,
                });
        }

        private void Happened(HandOff handOff, HandOffAct act, DateTimeOffset at, Person by, HandOffReason? reason = null) =>
            db.HandOffEvents.Add(new()
            {
                HandOffId = handOff.Id,
                Act = act,
                At = at,
                PersonId = by.Id,
                Role = by.Role,
                SiteId = by.SiteId,
                Reason = reason,
            });

        /// <summary>A question by a link, which nobody has: asked again it is shown.</summary>
        private void Ask(HandOff handOff, AnswerPurpose purpose) => db.AnswerRequests.Add(new()
        {
            Id = Guid.CreateVersion7(),
            InfantId = handOff.InfantId,
            Purpose = purpose,
            Step = handOff.Step,
            ToSiteId = handOff.ToSiteId,
            HandOffId = purpose == AnswerPurpose.Acknowledgement ? handOff.Id : null,
            AskedAt = At(anchor.AddDays(-2), 9),
            AskedBy = _office.Id,
            TokenSha256 = RandomNumberGenerator.GetBytes(SHA256.HashSizeInBytes),
            EndsAt = At(anchor.AddDays(policy.AnswerLinkDays - 2), 9),
        });

        private static DateTimeOffset At(DateOnly day, int hour) => new(day.ToDateTime(new TimeOnly(hour, 0)), TimeSpan.Zero);
    }
}
