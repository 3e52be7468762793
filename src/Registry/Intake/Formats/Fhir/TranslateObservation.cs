using Hl7.Fhir.Model;
using Hl7.Fhir.Utility;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Fhir;

/// <summary>Results of an ear, and reasons for none.</summary>
public sealed partial class TranslateBundle
{
    /// <summary>An observation whose code is known, and whose infant.</summary>
    private sealed record Seen(int Entry, Observation Observation, StandardCode Code, FhirSubject Subject)
    {
        public FhirRow? Row { get; set; }

        /// <summary>Of a result: the reasons, methods and durations that stand beside it; of one of those: its results.</summary>
        public List<Seen> Beside { get; } = [];
        public string Path => PathOf(Entry);
    }

    private void ReadCode(int entry, Observation observation)
    {
        var code = observation.Code.Coding.Select(c => FhirSystems.Find(CodeSet.Observation, c)).FirstOrDefault(c => c is not null);
        if (code is null)
        {
            Reject(entry, new Problem($"{PathOf(entry)}.code", "no known code: it is looked up by code and system, http://loinc.org"));
            return;
        }

        WarnOfNames(entry, observation.Code, CodeSet.Observation, $"{PathOf(entry)}.code");
        if (code.Means is "comment" or "provider" or "nicu" or "panel")
        {
            Say(entry, PathOf(entry), "is not recorded");
            return;
        }

        if (Subject(entry) is { } subject) _observations.Add(new(entry, observation, code, subject));
    }

    private void Observe(Seen seen)
    {
        switch (seen.Code.Means)
        {
            case "reason" or "method" or "duration":
                foreach (var result in seen.Beside) _entries[seen.Entry].Rows.Add(result.Row!.Position);
                if (seen.Beside.Count > 0 && !Stands(seen))
                    Say(seen.Entry, $"{seen.Path}.status", "is entered in error: the result beside it was taken without it");
                if (seen.Beside.Count > 0) break;
                if (seen.Code.Means == "reason") NotPerformed(seen);
                else Say(seen.Entry, seen.Path, "no result of this infant to go with it: not recorded");
                break;
            case "risk":
                Risks(seen);
                break;
        }
    }

    /// <summary>
    /// Which results an observation of a reason, method or duration belongs to: those of the same infant, of the same ear where it names
    /// one, and of the same time where there are several of its kind.
    /// </summary>
    private void PairObservations()
    {
        var results = _observations.Where(o => o.Code.Means == "result").ToLookup(o => o.Subject.Key);
        var alike = _observations.CountBy(o => (o.Code.Code, o.Subject.Key)).ToDictionary();
        foreach (var beside in _observations.Where(o => o.Code.Means is "reason" or "method" or "duration"))
        {
            var time = alike[(beside.Code.Code, beside.Subject.Key)] == 1 ? null : TimeOf(beside.Observation);
            foreach (var result in results[beside.Subject.Key])
            {
                if (beside.Code.Ear is { } ear && ear != result.Code.Ear) continue;
                if (beside.Code.Means == "reason" && result.Observation.Value is not null) continue;
                if (time is not null && time != TimeOf(result.Observation)) continue;
                beside.Beside.Add(result);
                result.Beside.Add(beside);
            }
        }
    }

    /// <summary>It was not entered in error.</summary>
    private static bool Stands(Seen seen) => seen.Observation.Status != ObservationStatus.EnteredInError;

    private static string? TimeOf(Observation observation) => FhirTime.TextOf(observation.Effective);

    /// <summary>One test of one ear, or why there was none. The LOINC code names the ear.</summary>
    private void Screening(Seen seen)
    {
        var o = seen.Observation;
        var row = seen.Row = Add(seen.Entry, RowKind.Screening);
        _subjects[row] = seen.Subject;
        Status(row, o.Status, seen.Path);
        row.Set(Field.Ear, Codes.Of(seen.Code.Ear!.Value), $"{seen.Path}.code");
        CheckEar(row, seen.Entry, o.BodySite, seen.Code.Ear.Value, $"{seen.Path}.bodySite");
        Outcome(row, seen);
        PerformedAt(row, o.Effective, $"{seen.Path}.effective");
        Method(row, seen);
        Stage(row, seen);
        Instrument(row, o, seen.Path);
        row.Set(Field.Screener, o.Performer.Find(p => p.Type != "Organization"
            && p.Reference?.StartsWith("Organization/", StringComparison.Ordinal) != true) is { } by ? by.Identifier?.Value
            ?? by.Display : null, $"{seen.Path}.performer");
        foreach (var (component, index) in o.Component.Select((c, index) => (c, index)))
            Component(row, seen, component, $"{seen.Path}.component[{index}]");
        foreach (var beside in seen.Beside.Where(b => b.Code.Means == "duration" && Stands(b)))
            Duration(row, beside.Observation.Value, $"{beside.Path}.value");
        if (row.Values.GetValueOrDefault(Field.Outcome) is "not_performed" or "no_valid_result")
            row.SetIfAbsent(Field.Reason, Codes.Of(ScreeningReason.Other), $"{seen.Path}.value");
    }

    /// <summary>Only a reason: the ear was not tested.</summary>
    private void NotPerformed(Seen seen)
    {
        var row = Add(seen.Entry, RowKind.Screening);
        _subjects[row] = seen.Subject;
        Status(row, seen.Observation.Status, seen.Path);
        row.Set(Field.Ear, Codes.Of(seen.Code.Ear!.Value), $"{seen.Path}.code");
        CheckEar(row, seen.Entry, seen.Observation.BodySite, seen.Code.Ear.Value, $"{seen.Path}.bodySite");
        row.Set(Field.Outcome, Codes.Of(ScreeningOutcome.NotPerformed), seen.Path);
        row.Set(Field.Reason, Codes.Of(ReasonOf(seen.Entry, seen.Observation.Value, $"{seen.Path}.value") ?? ScreeningReason.Other),
            $"{seen.Path}.value");
        PerformedAt(row, seen.Observation.Effective, $"{seen.Path}.effective");
    }

    /// <summary>final and preliminary report, amended and corrected correct, entered-in-error takes back.</summary>
    private static void Status(FhirRow row, ObservationStatus? status, string path)
    {
        switch (status)
        {
            case ObservationStatus.Final or ObservationStatus.Preliminary: break;
            case ObservationStatus.Amended or ObservationStatus.Corrected:
                row.Set(
                Field.Action, Codes.Of(RowAction.Correct), $"{path}.status"); break;
            case ObservationStatus.EnteredInError: row.Set(Field.Action, Codes.Of(RowAction.Retract), $"{path}.status"); break;
            default:
                row.Refuse(Field.Action, $"{path}.status", "must be final, preliminary, amended, corrected or entered-in-error",
                status?.GetLiteral()); break;
        }
    }

    private void CheckEar(FhirRow row, int entry, CodeableConcept? site, Ear ear, string path)
    {
        if (site is null) return;
        var (meaning, two) = Read(entry, site, CodeSet.BodySite, null, path);
        if (two || (meaning?.Ear is { } other && other != ear))
            row.Refuse(Field.Ear, path, "contradicts the ear of the code: 25577004 is the right ear, 89644007 the left",
                $"{Codes.Of(ear)}, {Stated(site)}");
    }

    private void Outcome(FhirRow row, Seen seen)
    {
        var o = seen.Observation;
        if (o.Status == ObservationStatus.EnteredInError) return;
        var path = $"{seen.Path}.value";
        if (o.Value is not null && o.DataAbsentReason is not null)
        {
            row.Refuse(Field.Outcome, $"{seen.Path}.dataAbsentReason", "there is a value (R4 constraint obs-6)",
                $"{Stated(o.Value)}, {Stated(o.DataAbsentReason)}");
            return;
        }

        if (o.DataAbsentReason is { } absent)
        {
            Absent(row, seen, absent);
            return;
        }

        if (o.Value is not CodeableConcept concept)
        {
            row.Refuse(Field.Outcome, path, "is required: valueCodeableConcept, or dataAbsentReason", Stated(o.Value));
            return;
        }

        var (meaning, two) = Read(seen.Entry, concept, CodeSet.Outcome, FhirSystems.Outcome, path);
        if (two) row.Refuse(Field.Outcome, path, "its codings contradict each other", Stated(concept));
        else if (meaning?.Means is not { } outcome)
            row.Refuse(Field.Outcome, path,
                "no known code: an answer of LOINC 54109-4 / 54108-6 or its SNOMED CT code, looked up by code and system", Stated(concept));
        else
        {
            row.Set(Field.Outcome, outcome, path);
            if (meaning.Value.Reason is { } reason) row.Set(Field.Reason, Codes.Of(reason), path);
        }
    }

    /// <summary>Not done: the reason stands in an observation 73742-9 / 73739-5 beside it, in a component, or in the absence
    /// itself.</summary>
    private void Absent(FhirRow row, Seen seen, CodeableConcept absent)
    {
        var path = $"{seen.Path}.dataAbsentReason";
        var own = absent.Coding.Find(c => c.System == FhirSystems.DataAbsent)?.Code;
        var reason = own == "asked-declined" ? ScreeningReason.Declined : ReasonOf(seen.Entry, absent, path);
        if (own is not ("not-performed" or "asked-declined") && reason is null)
        {
            row.Refuse(Field.Outcome, path,
                "must be not-performed or asked-declined: an attempt without a valid result is a value (LA12408-3)", Stated(absent));
            return;
        }

        row.Set(Field.Outcome, Codes.Of(ScreeningOutcome.NotPerformed), path);
        if (reason is { } r) row.Set(Field.Reason, Codes.Of(r), path);
        foreach (var beside in seen.Beside.Where(b => b.Code.Means == "reason" && Stands(b)))
            if (ReasonOf(beside.Entry, beside.Observation.Value, $"{beside.Path}.value") is { } stated)
                SetReason(row, stated, $"{beside.Path}.value");
    }

    private static void SetReason(FhirRow row, ScreeningReason reason, string path)
    {
        if (row.Values.TryGetValue(Field.Reason, out var earlier) && earlier != Codes.Of(reason))
            row.Refuse(Field.Reason, path, "contradicts the reason stated elsewhere", $"{earlier}, {Codes.Of(reason)}");
        else row.Set(Field.Reason, Codes.Of(reason), path);
    }

    private void PerformedAt(FhirRow row, DataType? effective, string path)
    {
        var text = FhirTime.TextOf(effective);
        if (FhirTime.Local(text, _zone) is { } local) row.Set(Field.PerformedAt, FhirTime.Write(local), path);
        else if (text is { Length: 10 } && row.Values.GetValueOrDefault(Field.Outcome) == "not_performed")
            row.Set(Field.PerformedAt, text + "T00:00", path);
        else row.Refuse(Field.PerformedAt, path, text is null ? "is required" : "must state a time of day with its offset", text);
    }

    private void Method(FhirRow row, Seen seen)
    {
        var (concept, entry, path) = (seen.Observation.Method, seen.Entry, $"{seen.Path}.method");
        if (concept is null && seen.Beside.Find(b => b.Code.Means == "method" && Stands(b)) is { } beside)
            (concept, entry, path) = (beside.Observation.Value as CodeableConcept, beside.Entry, $"{beside.Path}.value");
        if (concept is not null) SetMethod(row, entry, concept, path);
    }

    private void SetMethod(FhirRow row, int entry, CodeableConcept concept, string path)
    {
        var (meaning, two) = Read(entry, concept, CodeSet.Method, FhirSystems.Method, path);
        if (two) row.Refuse(Field.Method, path, "its codings contradict each other", Stated(concept));
        else if (meaning?.Means is not { } method)
            row.Refuse(Field.Method, path, "no known code: an answer of LOINC 54106-0, looked up by code and system", Stated(concept));
        else row.Set(Field.Method, method, path);
    }

    private void Stage(FhirRow row, Seen seen)
    {
        if (_find.Resource<Encounter>(seen.Observation.Encounter) is not { } encounter) return;
        var path = $"{seen.Path}.encounter";
        if (encounter.Class?.Code == "AMB") row.Set(Field.Stage, Codes.Of(ScreeningStage.OutpatientRescreen), path);
        else if (_births.TryGetValue(seen.Subject.Key, out var birth) && IsBirthAdmission(encounter, birth))
            row.Set(Field.Stage, Codes.Of(ScreeningStage.BirthAdmission), path);
    }
}
