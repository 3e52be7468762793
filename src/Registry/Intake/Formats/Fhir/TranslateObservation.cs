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
        if (code.Means is "comment" or "nicu" or "panel" || IsOfEvaluation(code.Means))
        {
            Say(entry, PathOf(entry), IsOfEvaluation(code.Means) ? "is taken as a component of 98418-7 only" : "is not recorded");
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
                if (seen.Beside.Count > 0 && IsInError(seen))
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

    private static bool IsInError(Seen seen) => seen.Observation.Status == ObservationStatus.EnteredInError;

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
        row.Set(Field.Screener, ScreenerOf(o), $"{seen.Path}.performer");
        foreach (var (component, index) in o.Component.Select((c, index) => (c, index)))
            Component(row, seen, component, $"{seen.Path}.component[{index}]");
        foreach (var beside in seen.Beside.Where(b => b.Code.Means == "duration" && !IsInError(b)))
            Duration(row, beside.Observation.Value, $"{beside.Path}.value");
        if (row.Values.GetValueOrDefault(Field.Outcome) is "not_performed" or "no_valid_result")
            row.SetIfAbsent(Field.Reason, Codes.Of(ScreeningReason.Other), $"{seen.Path}.value");
    }

    private static string? ScreenerOf(Observation observation)
    {
        var person = observation.Performer.Find(p => p.Type != "Organization"
            && p.Reference?.StartsWith("Organization/", StringComparison.Ordinal) != true);
        return person?.Identifier?.Value ?? person?.Display;
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
            case ObservationStatus.Final or ObservationStatus.Preliminary:
                break;
            case ObservationStatus.Amended or ObservationStatus.Corrected:
                row.Set(Field.Action, Codes.Of(RowAction.Correct), $"{path}.status");
                break;
            case ObservationStatus.EnteredInError:
                row.Set(Field.Action, Codes.Of(RowAction.Retract), $"{path}.status");
                break;
            default:
                row.Refuse(Field.Action, $"{path}.status", "must be final, preliminary, amended, corrected or entered-in-error",
                    status?.GetLiteral());
                break;
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
        if (concept is null && seen.Beside.Find(b => b.Code.Means == "method" && !IsInError(b)) is { } beside)
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
