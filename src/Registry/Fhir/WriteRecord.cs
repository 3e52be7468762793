using System.Globalization;
using Hl7.Fhir.Model;
using Registry.Facts;
using Registry.Intake.Formats.Fhir;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;
using static Registry.Fhir.WriteConcept;

namespace Registry.Fhir;

/// <summary>An infant's facts as resources: the ones we take in again, by the same codes, and our own codes for what no standard
/// has.</summary>
public sealed class WriteRecord(InfantId infant, TimeZoneInfo zone, IReadOnlyDictionary<Guid, (string Code, string Name)> sites)
{
    private readonly ResourceReference _subject = new($"Patient/{infant}");

    public List<Resource> Run(IReadOnlyList<RecordedFact> facts, IReadOnlyList<(IdentifierKind Kind, Guid Site, string Value)> identifiers)
    {
        var birth = facts.First(f => f.Fact is ReportedBirth);
        var resources = new List<Resource> { Patient((ReportedBirth)birth.Fact, facts, identifiers) };
        resources.AddRange(AroundBirth(birth.Id, (ReportedBirth)birth.Fact));
        foreach (var fact in facts.OrderBy(f => f.Fact.On).ThenBy(f => f.Id)) resources.AddRange(Of(fact));
        return resources;
    }

    private Patient Patient(
        ReportedBirth birth, IReadOnlyList<RecordedFact> facts, IReadOnlyList<(IdentifierKind Kind, Guid Site, string Value)> identifiers)
    {
        var patient = new Patient
        {
            Id = infant.ToString(),
            Identifier = [.. identifiers.Select(Identifier)],
            Name = Name(birth.InfantGivenName, birth.InfantFamilyName),
            Gender = birth.Sex switch
            {
                Sex.Female => AdministrativeGender.Female,
                Sex.Male => AdministrativeGender.Male,
                _ => AdministrativeGender.Unknown,
            },
            BirthDateElement = new Date(FhirTime.Iso(birth.BornOn)),
            Deceased = facts.Select(f => f.Fact).OfType<ReportedDeath>().FirstOrDefault() is { } death
                ? new FhirDateTime(FhirTime.Iso(death.DiedOn)) : null,
            MultipleBirth = birth.BirthOrder is { } order ? new Integer(order) : birth.Plurality is { } n ? new FhirBoolean(n > 1) : null,
            Telecom = Telecom(birth),
        };
        if (birth.BornAt is { } time)
            patient.BirthDateElement.AddExtension(FhirSystems.BirthTime, new FhirDateTime(Instant(birth.BornOn.ToDateTime(time))));
        if (birth.County is not null || birth.ResidenceState is not null)
            patient.Address.Add(new() { District = birth.County, State = States.CodeOf(birth.ResidenceState) });
        if (birth.Language is { } language) patient.Communication.Add(new() { Language = new() { Text = language }, Preferred = true });
        if (WriteFamily.Provider(facts) is { } provider) patient.GeneralPractitioner.Add(provider);
        return patient;
    }

    private Identifier Identifier((IdentifierKind Kind, Guid Site, string Value) identifier) => identifier.Kind == IdentifierKind.CardId
        ? new(FhirSystems.CardId, identifier.Value)
        : new($"{FhirSystems.RecordNumber}:{sites[identifier.Site].Code}", identifier.Value)
        {
            Type = new(FhirSystems.IdentifierType, "MR"),
            Assigner = new() { Display = sites[identifier.Site].Name },
        };

    private static List<HumanName> Name(string? given, string? family) =>
        given is null && family is null ? [] : [new() { Family = family, Given = given is null ? [] : [given] }];

    private static List<ContactPoint> Telecom(ReportedBirth birth)
    {
        var points = new List<ContactPoint>();
        if (birth.ContactEmail is { } email) points.Add(new(ContactPoint.ContactPointSystem.Email, null, email));
        if (birth.ContactPhone is { } phone) points.Add(new(ContactPoint.ContactPointSystem.Phone, null, phone));
        return points;
    }

    private IEnumerable<Resource> AroundBirth(Guid id, ReportedBirth birth)
    {
        if (birth.MotherGivenName is not null || birth.MotherFamilyName is not null || birth.MotherBornOn is not null)
        {
            yield return new RelatedPerson
            {
                Id = $"{id}-mother",
                Patient = _subject,
                Relationship = [new(FhirSystems.RoleCode, "MTH")],
                Name = Name(birth.MotherGivenName, birth.MotherFamilyName),
                BirthDate = birth.MotherBornOn is { } born ? FhirTime.Iso(born) : null,
            };
        }

        if (birth.DischargedOn is { } home)
        {
            yield return new Encounter
            {
                Id = $"{id}-admission",
                Status = Encounter.EncounterStatus.Finished,
                Class = new(FhirSystems.ActCode, "IMP"),
                Subject = _subject,
                Period = new() { Start = FhirTime.Iso(birth.BornOn), End = FhirTime.Iso(home) },
            };
        }

        if (birth.Plurality is { } plurality) yield return AtBirth("plurality", new Integer(plurality));
        if (birth.BirthWeightGrams is { } grams) yield return AtBirth("birth_weight", new Quantity(grams, "g", FhirSystems.Ucum));
        if (birth.PostDischargeProvider is { } provider) yield return AtBirth("provider", new FhirString(provider));
        if (birth.GestationWeeks is { } weeks) yield return AtBirth("gestation", new Quantity(weeks, "wk", FhirSystems.Ucum));

        Observation AtBirth(string means, DataType value) => Observation(
            $"{id}-{means.Replace('_', '-')}", Loinc(means), FhirTime.Iso(birth.BornOn), value);
    }

    private IEnumerable<Resource> Of(RecordedFact recorded)
    {
        var id = recorded.Id.ToString();
        switch (recorded.Fact)
        {
            case ReportedScreening test:
                yield return Screening(id, recorded.SiteId, test);
                break;
            case ReportedDiagnosis d:
                yield return Evaluation(id, recorded.SiteId, d);
                break;
            case ReportedRisk risk:
                yield return Observation(id, Loinc("risk"), FhirTime.Iso(risk.On),
                    Said(CodeSet.Risk, FhirSystems.Risk, Codes.Of(risk.Kind)));
                break;
            case ReportedTransfer transfer:
                yield return Own(sites[transfer.ToSiteId].Code);
                break;
            case ReportedFamilyContact person:
                yield return WriteFamily.Person(id, _subject, person);
                break;
            case ReportedCare care:
                if (WriteFamily.Coverage(id, _subject, care) is { } coverage) yield return coverage;
                break;
            case { Code: { } code }:
                yield return Own(code);
                break;
        }

        Observation Own(string code)
        {
            var kind = FactKinds.Of(recorded.Fact).Name;
            var observation = Observation(id, OwnConcept("urn:x-registry:kind", kind), FhirTime.Iso(recorded.Fact.On),
                OwnConcept($"urn:x-registry:{kind}", code));
            if (recorded.Fact.Until is { } end)
                observation.Effective = new Period { Start = FhirTime.Iso(recorded.Fact.On), End = FhirTime.Iso(end) };
            return observation;
        }
    }

    private Observation Screening(string id, Guid site, ReportedScreening test)
    {
        var notDone = test.Outcome == ScreeningOutcome.NotPerformed;
        var observation = Observation(id, Loinc("result", test.Ear),
            Instant(test.PerformedAt), notDone ? null : Said(CodeSet.Outcome, FhirSystems.Outcome, Codes.Of(test.Outcome)));
        observation.BodySite = Site(test.Ear);
        if (notDone)
        {
            observation.DataAbsentReason = new(FhirSystems.DataAbsent, "not-performed");
            observation.Component.Add(new()
            {
                Code = Loinc("reason", test.Ear),
                Value = Reason(test.Reason),
            });
        }
        else if (test.Reason != ScreeningReason.None)
            observation.Component.Add(Part("reason", OwnConcept(FhirSystems.Reason, Codes.Of(test.Reason))));

        if (test.Method != ScreeningMethod.Unknown || !notDone)
            observation.Method = Said(CodeSet.Method, FhirSystems.Method, Codes.Of(test.Method));
        if (test.Screener is { } by) observation.Performer.Add(new() { Type = "Practitioner", Identifier = new(null, by) });
        observation.Performer.Add(new() { Type = "Organization", Display = sites[site].Name });
        if (test.Instrument is { } instrument) observation.Device = new() { Identifier = new(null, instrument) };
        if (test.Probe is { } probe) observation.Component.Add(Part("probe", new FhirString(probe)));
        if (test.Stage != ScreeningStage.Unstated)
            observation.Component.Add(Part("stage", OwnConcept("urn:x-registry:stage", Codes.Of(test.Stage))));
        if (test.Detail is { } detail) observation.Component.AddRange(Measured(test.Ear, detail));
        return observation;
    }

    /// <summary>Both ears in one, as <c>TranslateEvaluation</c> reads it.</summary>
    private Observation Evaluation(string id, Guid site, ReportedDiagnosis found)
    {
        var code = Loinc("audiology");
        code.Coding.Add(new("urn:x-registry:kind", "diagnosis"));
        var observation = Observation(id, code, FhirTime.Iso(found.EvaluatedOn), value: null);
        observation.Status = found.Provisional ? ObservationStatus.Preliminary : ObservationStatus.Final;
        if (found.Evaluator is { } by) observation.Performer.Add(new() { Type = "Practitioner", Identifier = new(null, by) });
        observation.Performer.Add(new() { Type = "Organization", Display = sites[site].Name });
        observation.Component.AddRange(WriteEvaluation.Components(found));
        return observation;
    }

    private static IEnumerable<Observation.ComponentComponent> Measured(Ear ear, TestDetail detail)
    {
        if (detail.DurationSeconds is { } seconds)
            yield return new() { Code = Loinc("duration", ear), Value = new Quantity(seconds, "s", FhirSystems.Ucum) };
        if (detail.Stimulus is { } stimulus) yield return Part("stimulus", new FhirString(stimulus));
        if (detail.ArtefactsRejected is { } artefacts) yield return Part("artefacts_rejected", new Integer(artefacts));
        if (detail.EarCanalVolumeMl is { } volume) yield return Part("ear_canal_volume_ml", new Quantity(volume, "mL", FhirSystems.Ucum));
        if (detail.AmbientNoiseDb is { } noise) yield return Part("ambient_noise_db", new Quantity(noise, "dB[SPL]", FhirSystems.Ucum));
        if (detail.Bands.Count > 0) yield return Part("bands", new FhirString(TestDetail.WriteBands(detail.Bands)));
    }

    private Observation Observation(string id, CodeableConcept code, string effective, DataType? value) => new()
    {
        Id = id,
        Status = ObservationStatus.Final,
        Category = [new(FhirSystems.ObservationCategory, "exam")],
        Code = code,
        Subject = _subject,
        Effective = new FhirDateTime(effective),
        Value = value,
    };

    /// <summary>A local time with the offset it had.</summary>
    private string Instant(DateTime local)
    {
        var offset = zone.GetUtcOffset(local);
        return new DateTimeOffset(DateTime.SpecifyKind(local, DateTimeKind.Unspecified), offset)
            .ToString("yyyy-MM-ddTHH:mm:sszzz", CultureInfo.InvariantCulture);
    }
}
