using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Facts;

/// <summary>
/// The family as it is now, from everything that was said of it and still stands. Of each thing about a person (a telephone, the address,
/// the language, ...) the newest statement that says it holds: by the day it is of, then by when it was recorded. What the birth says of
/// the mother is the oldest. Whom to call and who may not be told follows from it, here and nowhere else; letters ask the same of the
/// database (<c>Outreach/MayWrite.sql</c>).
/// </summary>
/// <param name="People">Whoever holds custody first, then as <see cref="FamilyRelation"/> has them.</param>
/// <param name="Care">Who cares for the child's health and who pays.</param>
public sealed record FamilyNow(IReadOnlyList<ReportedFamilyContact> People, ReportedCare Care)
{
    private static readonly FamilyRelation[] Parents = [FamilyRelation.Mother, FamilyRelation.Father, FamilyRelation.OtherParent];

    /// <param name="said">What holds, of any kind; what was recorded at one moment in the order of its rows.</param>
    public static FamilyNow Of(IEnumerable<(ReportedFact Fact, DateTimeOffset RecordedAt)> said)
    {
        var people = new SortedDictionary<(FamilyRelation, string), ReportedFamilyContact>();
        var care = new ReportedCare(null);
        var statements = said.ToList();
        if (statements.Select(s => s.Fact).OfType<ReportedBirth>().FirstOrDefault() is { } birth)
        {
            var mother = OfBirth(birth);
            if (mother.SaysSomething) people[(FamilyRelation.Mother, "")] = mother;
            care = care with { PrimaryCare = birth.PostDischargeProvider, Insurance = birth.Insurance };
        }

        foreach (var (fact, at) in statements.OrderBy(s => DayOf(s.Fact, s.RecordedAt)).ThenBy(s => s.RecordedAt))
        {
            if (fact is ReportedFamilyContact contact)
            {
                var dated = contact with { StatedOn = DayOf(contact, at) };
                var who = (contact.Kind, ReportedFamilyContact.MayBeSeveral(contact.Kind) ? contact.NameKey : "");
                people[who] = people.TryGetValue(who, out var known) ? Restated(known, dated) : dated;
            }
            else if (fact is ReportedCare stated)
            {
                care = Restated(care, stated with { StatedOn = DayOf(stated, at) });
            }
        }

        return new([.. people.Values.OrderByDescending(p => p.HoldsCustody == true)], care);
    }

    public ReportedFamilyContact? Mother => People.FirstOrDefault(p => p.Kind == FamilyRelation.Mother);

    /// <summary>Who decides for the child instead of its parents; empty when nobody was said to.</summary>
    public IEnumerable<ReportedFamilyContact> Guardians => People.Where(p => p.HoldsCustody == true && !IsOfParents(p));

    /// <summary>Who must not be told of the child's hearing.</summary>
    public IEnumerable<ReportedFamilyContact> NotTold => People.Where(p => p.MayBeTold == false);

    /// <summary>
    /// Who may be called, the first first: nobody who may not be told; where somebody else than the parents holds custody, only those who
    /// do and those of whom it was said that they may be told. Whoever holds custody goes before whoever was not said to.
    /// </summary>
    public IEnumerable<ReportedFamilyContact> ToCall => People
        .Where(p => p.MayBeTold != false && (!Guardians.Any() || p.HoldsCustody == true || p.MayBeTold == true))
        .OrderBy(p => p.HoldsCustody switch { true => 0, null => 1, false => 2 });

    /// <summary>The first of them with a telephone.</summary>
    public ReportedFamilyContact? BestToCall => ToCall.FirstOrDefault(p => p.Phone is not null);

    /// <summary>Reminders go to the mother's newest address: not where she may not be told, nor where somebody else decides and nobody
    /// said that she may be.</summary>
    public bool MotherMayBeWrittenTo => Mother?.MayBeTold ?? (Mother?.HoldsCustody == true || !Guardians.Any());

    private static bool IsOfParents(ReportedFamilyContact person) =>
        Parents.Contains(person.Kind) || person.Kind == FamilyRelation.Self;

    /// <summary>The day a statement is of.</summary>
    private static DateOnly DayOf(ReportedFact fact, DateTimeOffset recordedAt) =>
        fact.IsUndated ? DateOnly.FromDateTime(recordedAt.UtcDateTime) : fact.On;

    private static ReportedFamilyContact OfBirth(ReportedBirth birth) => new(FamilyRelation.Mother, null)
    {
        Name = $"{birth.MotherGivenName} {birth.MotherFamilyName}".Trim() is { Length: > 0 } name ? name : null,
        Phone = birth.ContactPhone,
        Email = birth.ContactEmail,
        Language = birth.Language,
    };

    /// <summary>What is known with what was said later. A telephone goes with its kind, and an address is one thing. A guardian, relative
    /// or office of another name is somebody else, of whom nothing else is known; who decides and who may not be told stays until it is
    /// said anew.</summary>
    private static ReportedFamilyContact Restated(ReportedFamilyContact known, ReportedFamilyContact said)
    {
        if (!IsOfParents(said) && said.Name is not null && known.Name is not null && said.NameKey != known.NameKey)
            known = new(known.Kind, null) { HoldsCustody = known.HoldsCustody, MayBeTold = known.MayBeTold };
        var moved = (said.Street ?? said.City ?? said.PostalCode ?? said.State) is not null;
        return said with
        {
            Name = said.Name ?? known.Name,
            Phone = said.Phone ?? known.Phone,
            PhoneUse = said.Phone is null ? known.PhoneUse : said.PhoneUse,
            OtherPhone = said.OtherPhone ?? known.OtherPhone,
            OtherPhoneUse = said.OtherPhone is null ? known.OtherPhoneUse : said.OtherPhoneUse,
            Email = said.Email ?? known.Email,
            Street = moved ? said.Street : known.Street,
            City = moved ? said.City : known.City,
            PostalCode = moved ? said.PostalCode : known.PostalCode,
            State = moved ? said.State : known.State,
            Language = said.Language ?? known.Language,
            InterpreterNeeded = said.InterpreterNeeded ?? known.InterpreterNeeded,
            PreferredChannel = said.PreferredChannel ?? known.PreferredChannel,
            PreferredHours = said.PreferredHours ?? known.PreferredHours,
            HoldsCustody = said.HoldsCustody ?? known.HoldsCustody,
            MayBeTold = said.MayBeTold ?? known.MayBeTold,
        };
    }

    /// <summary>Another provider is not confirmed, nor has it the telephone of the one before.</summary>
    private static ReportedCare Restated(ReportedCare known, ReportedCare said)
    {
        var another = said.PrimaryCare is not null && NormaliseName.Of(said.PrimaryCare) != NormaliseName.Of(known.PrimaryCare);
        return said with
        {
            PrimaryCare = said.PrimaryCare ?? known.PrimaryCare,
            PrimaryCarePhone = said.PrimaryCarePhone ?? (another ? null : known.PrimaryCarePhone),
            PrimaryCareConfirmed = said.PrimaryCareConfirmed ?? (another ? null : known.PrimaryCareConfirmed),
            Insurance = said.Insurance ?? known.Insurance,
        };
    }
}
