using System.Globalization;
using Hl7.Fhir.Model;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Fhir;

/// <summary>Results of an ear, reasons for none, risk indicators, and procedures that were not done.</summary>
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

    private readonly record struct Meaning(string? Means, Ear? Ear, ScreeningReason? Reason);

    private static readonly string[] DatedRisks = ["meningitis", "head_trauma_or_chemotherapy", "caregiver_concern", "ecmo"];

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
    /// Which results an observation of a reason, method or duration belongs to: those of the same infant, of the same ear where it names one,
    /// and of the same time where there are several of its kind.
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
        row.Set(Field.Screener, o.Performer.Find(p => p.Type != "Organization" && p.Reference?.StartsWith("Organization/", StringComparison.Ordinal) != true) is { } by ? by.Identifier?.Value ?? by.Display : null, $"{seen.Path}.performer");
        foreach (var (component, index) in o.Component.Select((c, index) => (c, index))) Component(row, seen, component, $"{seen.Path}.component[{index}]");
        foreach (var beside in seen.Beside.Where(b => b.Code.Means == "duration"))
            Duration(row, beside.Observation.Value, $"{beside.Path}.value");
        if (row.Values.GetValueOrDefault(Field.Outcome) is "not_performed" or "no_valid_result") row.SetIfAbsent(Field.Reason, Codes.Of(ScreeningReason.Other), $"{seen.Path}.value");
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
        row.Set(Field.Reason, Codes.Of(ReasonOf(seen.Entry, seen.Observation.Value, $"{seen.Path}.value") ?? ScreeningReason.Other), $"{seen.Path}.value");
        PerformedAt(row, seen.Observation.Effective, $"{seen.Path}.effective");
    }

    /// <summary>final and preliminary report, amended and corrected correct, entered-in-error takes back.</summary>
    private static void Status(FhirRow row, ObservationStatus? status, string path)
    {
        switch (status)
        {
            case ObservationStatus.Final or ObservationStatus.Preliminary: break;
            case ObservationStatus.Amended or ObservationStatus.Corrected: row.Set(Field.Action, Codes.Of(RowAction.Correct), $"{path}.status"); break;
            case ObservationStatus.EnteredInError: row.Set(Field.Action, Codes.Of(RowAction.Retract), $"{path}.status"); break;
            default: row.Refuse(Field.Action, $"{path}.status", "must be final, preliminary, amended, corrected or entered-in-error"); break;
        }
    }

    private void CheckEar(FhirRow row, int entry, CodeableConcept? site, Ear ear, string path)
    {
        if (site is null) return;
        var (meaning, two) = Read(entry, site, CodeSet.BodySite, null, path);
        if (two || (meaning?.Ear is { } other && other != ear))
            row.Refuse(Field.Ear, path, "contradicts the ear of the code: 25577004 is the right ear, 89644007 the left");
    }

    private void Outcome(FhirRow row, Seen seen)
    {
        var o = seen.Observation;
        if (o.Status == ObservationStatus.EnteredInError) return;
        var path = $"{seen.Path}.value";
        if (o.Value is not null && o.DataAbsentReason is not null)
        {
            row.Refuse(Field.Outcome, $"{seen.Path}.dataAbsentReason", "there is a value (R4 constraint obs-6)");
            return;
        }

        if (o.DataAbsentReason is { } absent)
        {
            Absent(row, seen, absent);
            return;
        }

        if (o.Value is not CodeableConcept concept)
        {
            row.Refuse(Field.Outcome, path, "is required: valueCodeableConcept, or dataAbsentReason");
            return;
        }

        var (meaning, two) = Read(seen.Entry, concept, CodeSet.Outcome, FhirSystems.Outcome, path);
        if (two) row.Refuse(Field.Outcome, path, "its codings contradict each other");
        else if (meaning?.Means is not { } outcome) row.Refuse(Field.Outcome, path, "no known code: an answer of LOINC 54109-4 / 54108-6 or its SNOMED CT code, looked up by code and system");
        else
        {
            row.Set(Field.Outcome, outcome, path);
            if (meaning.Value.Reason is { } reason) row.Set(Field.Reason, Codes.Of(reason), path);
        }
    }

    /// <summary>Not done: the reason stands in an observation 73742-9 / 73739-5 beside it, in a component, or in the absence itself.</summary>
    private void Absent(FhirRow row, Seen seen, CodeableConcept absent)
    {
        var path = $"{seen.Path}.dataAbsentReason";
        var own = absent.Coding.Find(c => c.System == FhirSystems.DataAbsent)?.Code;
        var reason = own == "asked-declined" ? ScreeningReason.Declined : ReasonOf(seen.Entry, absent, path);
        if (own is not ("not-performed" or "asked-declined") && reason is null)
        {
            row.Refuse(Field.Outcome, path, "must be not-performed or asked-declined: an attempt without a valid result is a value (LA12408-3)");
            return;
        }

        row.Set(Field.Outcome, Codes.Of(ScreeningOutcome.NotPerformed), path);
        if (reason is { } r) row.Set(Field.Reason, Codes.Of(r), path);
        foreach (var beside in seen.Beside.Where(b => b.Code.Means == "reason"))
            if (ReasonOf(beside.Entry, beside.Observation.Value, $"{beside.Path}.value") is { } stated) SetReason(row, stated, $"{beside.Path}.value");
    }

    private ScreeningReason? ReasonOf(int entry, DataType? value, string path)
    {
        if (value is not CodeableConcept concept) return null;
        WarnOfNames(entry, concept, CodeSet.Outcome, path);
        foreach (var coding in concept.Coding)
        {
            if (FhirSystems.Find(CodeSet.Outcome, coding)?.Reason is { } reason) return reason;
            if (FhirSystems.Own<ScreeningReason>(FhirSystems.Reason, coding) is { } own and not ScreeningReason.None) return own;
        }

        if (path.EndsWith(".value", StringComparison.Ordinal)) Say(entry, path, "none of the known reasons: recorded as other");
        return null;
    }

    private static void SetReason(FhirRow row, ScreeningReason reason, string path)
    {
        if (row.Values.TryGetValue(Field.Reason, out var earlier) && earlier != Codes.Of(reason)) row.Refuse(Field.Reason, path, "contradicts the reason stated elsewhere");
        row.Set(Field.Reason, Codes.Of(reason), path);
    }

    private void PerformedAt(FhirRow row, DataType? effective, string path)
    {
        var text = FhirTime.TextOf(effective);
        if (FhirTime.Local(text, _zone) is { } local) row.Set(Field.PerformedAt, FhirTime.Write(local), path);
        else if (text is { Length: 10 } && row.Values.GetValueOrDefault(Field.Outcome) == "not_performed") row.Set(Field.PerformedAt, text + "T00:00", path);
        else row.Refuse(Field.PerformedAt, path, text is null ? "is required" : "must state a time of day with its offset");
    }

    private void Method(FhirRow row, Seen seen)
    {
        var (concept, entry, path) = (seen.Observation.Method, seen.Entry, $"{seen.Path}.method");
        if (concept is null && seen.Beside.Find(b => b.Code.Means == "method") is { } beside)
            (concept, entry, path) = (beside.Observation.Value as CodeableConcept, beside.Entry, $"{beside.Path}.value");
        if (concept is not null) SetMethod(row, entry, concept, path);
    }

    private void SetMethod(FhirRow row, int entry, CodeableConcept concept, string path)
    {
        var (meaning, two) = Read(entry, concept, CodeSet.Method, FhirSystems.Method, path);
        if (two) row.Refuse(Field.Method, path, "its codings contradict each other");
        else if (meaning?.Means is not { } method) row.Refuse(Field.Method, path, "no known code: an answer of LOINC 54106-0, looked up by code and system");
        else row.Set(Field.Method, method, path);
    }

    private void Stage(FhirRow row, Seen seen)
    {
        if (_find.Resource<Encounter>(seen.Observation.Encounter) is not { } encounter) return;
        var path = $"{seen.Path}.encounter";
        if (encounter.Class?.Code == "AMB") row.Set(Field.Stage, Codes.Of(ScreeningStage.OutpatientRescreen), path);
        else if (_births.TryGetValue(seen.Subject.Key, out var birth) && IsBirthAdmission(encounter, birth)) row.Set(Field.Stage, Codes.Of(ScreeningStage.BirthAdmission), path);
    }

    /// <summary>A device with a parent is a probe of that instrument.</summary>
    private void Instrument(FhirRow row, Observation observation, string path)
    {
        if (observation.Device is not { } reference) return;
        if (_find.Resource<Device>(reference) is not { } device)
        {
            row.Set(Field.Instrument, reference.Identifier?.Value ?? reference.Display, $"{path}.device");
            return;
        }

        if (device.Parent is null) row.Set(Field.Instrument, NumberOf(device), $"{path}.device");
        else
        {
            row.Set(Field.Probe, NumberOf(device), $"{path}.device");
            row.Set(Field.Instrument, _find.Resource<Device>(device.Parent) is { } parent ? NumberOf(parent) : device.Parent.Identifier?.Value ?? device.Parent.Display, $"{path}.device");
        }

        static string? NumberOf(Device device) =>
            device.SerialNumber ?? device.Identifier.FirstOrDefault()?.Value ?? device.DistinctIdentifier ?? device.DeviceName.FirstOrDefault()?.Name;
    }

    private void Component(FhirRow row, Seen seen, Observation.ComponentComponent component, string path)
    {
        if (component.Code.Coding.Select(c => FhirSystems.Own<Field>(FhirSystems.Field, c)).FirstOrDefault(f => f is not null) is { } field)
        {
            OwnComponent(row, seen, component, field, path);
            return;
        }

        var code = component.Code.Coding.Select(c => FhirSystems.Find(CodeSet.Observation, c)).FirstOrDefault(c => c is not null);
        if (code?.Ear is { } ear && ear != seen.Code.Ear) row.Refuse(Field.Ear, $"{path}.code", "contradicts the ear of the observation");
        switch (code?.Means)
        {
            case "reason":
                if (ReasonOf(seen.Entry, component.Value, $"{path}.value") is { } reason) SetReason(row, reason, $"{path}.value");
                break;
            case "method":
                if (component.Value is CodeableConcept method) SetMethod(row, seen.Entry, method, $"{path}.value");
                break;
            case "duration":
                Duration(row, component.Value, $"{path}.value");
                break;
            default:
                Say(seen.Entry, path, "is not recorded");
                break;
        }
    }

    /// <summary>Our own column as a component, for what no terminology has a code.</summary>
    private void OwnComponent(FhirRow row, Seen seen, Observation.ComponentComponent component, Field field, string path)
    {
        if (!CheckRow.FieldsOf(RowKind.Screening).Contains(field) || field is Field.Ear or Field.Outcome or Field.PerformedAt)
        {
            Say(seen.Entry, path, "is not a column of a screening");
            return;
        }

        row.Set(field, component.Value switch
        {
            Quantity { Value: { } value } => value.ToString(CultureInfo.InvariantCulture),
            Integer { Value: { } value } => value.ToString(CultureInfo.InvariantCulture),
            FhirString text => text.Value,
            CodeableConcept concept => concept.Coding.FirstOrDefault()?.Code ?? concept.Text,
            _ => null,
        }, $"{path}.value");
    }

    private static void Duration(FhirRow row, DataType? value, string path)
    {
        decimal? factor = value is Quantity q ? (q.Code ?? q.Unit) switch { "s" => 1, "min" => 60, "ms" => 0.001m, _ => null } : null;
        if (factor is { } f && value is Quantity { Value: { } number } && number is >= 0 and <= 1_000_000)
            row.Set(Field.DurationSeconds, decimal.Round(number * f, 2).ToString("0.##", CultureInfo.InvariantCulture), path);
        else row.Refuse(Field.DurationSeconds, path, "is not a quantity in s, min or ms (UCUM)");
    }

    /// <summary>58232-0: one answer a row; "none" makes no row, nor does an answer this registry keeps no indicator for.</summary>
    private void Risks(Seen seen)
    {
        var answers = new List<(DataType? Value, string Path)> { (seen.Observation.Value, $"{seen.Path}.value") };
        answers.AddRange(seen.Observation.Component.Select((c, i) => (c.Value, $"{seen.Path}.component[{i}].value")));
        foreach (var (value, path) in answers)
        {
            if (value is null) continue;
            var (meaning, two) = value is CodeableConcept concept ? Read(seen.Entry, concept, CodeSet.Risk, FhirSystems.Risk, path) : (null, false);
            if (meaning is { Means: "none" })
            {
                Say(seen.Entry, path, "no indicator: nothing to record");
                continue;
            }

            if (meaning is { Means: null })
            {
                Say(seen.Entry, path, "this risk is known, but none of the indicators that are kept: not recorded");
                continue;
            }

            var row = Add(seen.Entry, RowKind.Risk);
            _subjects[row] = seen.Subject;
            Status(row, seen.Observation.Status, seen.Path);
            if (two || meaning is not { } known) row.Refuse(Field.Indicator, path, two ? "its codings contradict each other" : "no known code: an answer of LOINC 58232-0, looked up by code and system");
            else
            {
                row.Set(Field.Indicator, known.Means, path);
                // What can happen after birth is dated by its observation; the rest was present at birth.
                if (DatedRisks.Contains(known.Means) && FhirTime.Day(TimeOf(seen.Observation), _zone) is { } day)
                    row.Set(Field.NotedOn, FhirTime.Iso(day), $"{seen.Path}.effective");
            }
        }

        if (answers.TrueForAll(a => a.Value is null)) Reject(seen.Entry, new Problem($"{seen.Path}.value", "is required: the indicators are always answered, \"none\" too"));
    }

    /// <summary>A screening that was not done, as a Procedure: each ear its bodySite names, or both.</summary>
    private void NotDone(int entry, Procedure procedure)
    {
        var path = PathOf(entry);
        var code = procedure.Code?.Coding.Select(c => FhirSystems.Find(CodeSet.Observation, c)).FirstOrDefault(c => c is { Means: "panel" or "result" });
        if (code is null)
        {
            Reject(entry, new Problem($"{path}.code", "no known code: a procedure is a hearing screening (LOINC 54111-0, 54109-4 or 54108-6)"));
            return;
        }

        if (procedure.Status != EventStatus.NotDone)
        {
            Say(entry, path, "is recorded by the Observations of its results");
            return;
        }

        if (Subject(entry) is not { } subject) return;
        var named = procedure.BodySite.Select(s => Read(entry, s, CodeSet.BodySite, null, $"{path}.bodySite").Meaning?.Ear).OfType<Ear>().ToList();
        Ear[] ears = code.Ear is { } only ? [only] : named.Count > 0 ? [.. named.Distinct()] : [Ear.Right, Ear.Left];
        var reason = ReasonOf(entry, procedure.StatusReason, $"{path}.statusReason") ?? ScreeningReason.Other;
        foreach (var ear in ears)
        {
            var row = Add(entry, RowKind.Screening);
            _subjects[row] = subject;
            row.Set(Field.Ear, Codes.Of(ear), $"{path}.bodySite");
            if (code.Ear is not null && named.Exists(n => n != ear)) row.Refuse(Field.Ear, $"{path}.bodySite", "contradicts the ear of the code");
            row.Set(Field.Outcome, Codes.Of(ScreeningOutcome.NotPerformed), $"{path}.status");
            row.Set(Field.Reason, Codes.Of(reason), $"{path}.statusReason");
            PerformedAt(row, procedure.Performed, $"{path}.performed");
        }
    }

    /// <summary>What a concept says: its codings by code and system, published ones and our own, must agree.</summary>
    private (Meaning? Meaning, bool TwoMeanings) Read(int entry, CodeableConcept concept, CodeSet set, string? ownSystem, string path)
    {
        WarnOfNames(entry, concept, set, path);
        Meaning? found = null;
        foreach (var coding in concept.Coding)
        {
            var standard = FhirSystems.Find(set, coding);
            Meaning? one = standard is not null ? new(standard.Means, standard.Ear, standard.Reason)
                : ownSystem is not null && coding.System == ownSystem && coding.Code is { Length: <= 64 } own ? new(own, null, null) : null;
            if (one is null) continue;
            if (found is { } earlier && (earlier.Means != one.Value.Means || (earlier.Reason is { } r && one.Value.Reason is { } other && r != other))) return (null, true);
            found = found is { } kept ? kept with { Reason = kept.Reason ?? one.Value.Reason } : one;
        }

        return (found, false);
    }

    /// <summary>A name beside a code that is not the code's: the code was taken, but somebody should look.</summary>
    private void WarnOfNames(int entry, CodeableConcept concept, CodeSet set, string path)
    {
        foreach (var coding in concept.Coding)
        {
            if (coding.Display is not { Length: > 0 } name || FhirSystems.Find(set, coding) is not { Source: 'F' } code) continue;
            // A part of the published name will do; more words might say the opposite.
            if (!code.Display.Contains(name.Trim(), StringComparison.OrdinalIgnoreCase))
                _entries[entry].Remark(FhirIssue.Warning(entry, $"{path}.coding", "the name beside the code is not the code's; the code was taken"));
        }
    }
}
