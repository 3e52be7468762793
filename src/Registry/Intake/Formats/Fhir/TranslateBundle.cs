using Hl7.Fhir.Model;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Fhir;

/// <summary>
/// A Bundle's entries as rows of the intake: a Patient is a birth (and a death), each result of an ear a screening, each risk answer a
/// risk. What other resources say (mother, birth encounter, weight, instrument) goes into the row it belongs to, whatever the order of the
/// entries.
/// </summary>
/// <remarks>
/// How many rows there are, and whose, depends on the Bundle alone, so that it can be counted before an infant named by the
/// registry's id is looked up.
/// </remarks>
public sealed partial class TranslateBundle
{
    private readonly Bundle _bundle;
    private readonly TimeZoneInfo _zone;
    private readonly IReadOnlyDictionary<Guid, KnownPatient>? _known;
    private readonly FindSubject _find;
    private readonly List<FhirRow> _rows = [];
    private readonly List<FhirEntry> _entries = [];
    private readonly Dictionary<string, FhirRow> _births = [];
    private readonly Dictionary<FhirRow, FhirSubject> _subjects = [];
    private readonly List<Seen> _observations = [];
    private readonly HashSet<int> _rejected = [];

    private TranslateBundle(ParsedBundle parsed, TimeZoneInfo zone, IReadOnlyDictionary<Guid, KnownPatient>? known) =>
        (_bundle, _zone, _known, _find) = (parsed.Bundle!, zone, known, new FindSubject(parsed));

    /// <summary>Ids of this registry the Bundle refers to.</summary>
    public static IReadOnlyCollection<Guid> InfantsNamedIn(ParsedBundle parsed)
    {
        var find = new FindSubject(parsed);
        var unreadable = parsed.Issues.Select(i => i.Entry).ToHashSet();
        return [.. parsed.Bundle!.Entry.Where((e, i) => e is not null && !unreadable.Contains(i))
            .Select(e => find.Of(SubjectOf(e.Resource)).Subject?.Infant).OfType<Guid>().Distinct()];
    }

    /// <param name="parsed">A Bundle without <see cref="ParsedBundle.Fatal"/> problems.</param>
    /// <param name="zone">The region's time zone.</param>
    /// <param name="known">The infants of <see cref="InfantsNamedIn"/> the sender's site may see; null while rows are only counted.</param>
    public static TranslatedBundle Run(ParsedBundle parsed, TimeZoneInfo zone, IReadOnlyDictionary<Guid, KnownPatient>? known)
    {
        var translate = new TranslateBundle(parsed, zone, known);
        translate.ReadEntries(parsed);
        translate.Run();
        return new(parsed.AllOrNothing, translate._entries, translate._rows);
    }

    private void ReadEntries(ParsedBundle parsed)
    {
        var problems = parsed.Issues.Where(i => i.Entry is not null).ToLookup(i => i.Entry!.Value);
        for (var i = 0; i < parsed.EntryCount; i++)
        {
            if (problems[i].Any())
            {
                _entries.Add(new(i, null) { Unreadable = true });
                Reject(i, [.. problems[i].Take(FhirEntry.MaxIssues).Select(p => new Problem(p.Expression, p.Text))]);
                continue;
            }

            _entries.Add(new(i, _bundle.Entry[i]?.Resource?.TypeName));
            if (WhyNotTaken(i, _bundle.Entry[i]) is { } problem) Reject(i, problem);
        }
    }

    /// <returns>Null for an entry that is taken.</returns>
    private Problem? WhyNotTaken(int i, Bundle.EntryComponent? entry)
    {
        var (path, resource) = ($"Bundle.entry[{i}]", entry?.Resource);
        if (resource is not null && IsModified(resource))
            return new($"{path}.resource",
                "has a modifierExtension or implicitRules this registry does not know, and so may mean something else");
        if (resource is not null && !IsTaken(resource))
            return new($"{path}.resource", "only Patient, RelatedPerson, Observation, Encounter, Device, Procedure and Coverage are taken");
        if (entry?.Request is not { } request) return new($"{path}.request", "is required: POST and the resource's type");
        if (request.Method != Bundle.HTTPVerb.POST)
            return new($"{path}.request.method", "only POST is taken; a correction is an Observation with status corrected");
        if (resource is null) return new($"{path}.resource", "is required");
        if (request.Url != resource.TypeName) return new($"{path}.request.url", "must be the type of the resource");
        if (_find.Repeated.Contains(i)) return new($"{path}.fullUrl", "an earlier entry has the same");
        if (request.IfNoneExist is not null && resource is not Patient)
            return new($"{path}.request.ifNoneExist", "is taken for a Patient only");
        return null;
    }

    /// <summary>R4 forbids to read on where a modifier is not understood (extensibility.html).</summary>
    private static bool IsModified(Resource resource) =>
        resource.ImplicitRules is not null || (resource is DomainResource { ModifierExtension.Count: > 0 })
        || (resource is Observation observation && observation.Component.Exists(c => c.ModifierExtension.Count > 0));

    private static bool IsTaken(Resource resource) =>
        resource is Patient or RelatedPerson or Observation or Encounter or Device or Procedure or Coverage;

    private void Run()
    {
        // Births first: whatever completes one finds it, in whatever order the entries come.
        foreach (var (i, patient) in Taken<Patient>()) Birth(i, patient);
        foreach (var (i, person) in Taken<RelatedPerson>()) Relative(i, person);
        foreach (var (i, encounter) in Taken<Encounter>()) BirthEncounter(i, encounter);
        foreach (var (i, patient) in Taken<Patient>()) Family(i, patient);
        foreach (var (i, coverage) in Taken<Coverage>()) Pays(i, coverage);
        foreach (var (i, _) in Taken<Device>()) Say(i, PathOf(i), "is recorded with the tests that name it");
        foreach (var (i, observation) in Taken<Observation>()) ReadCode(i, observation);
        foreach (var seen in _observations) CompleteBirth(seen);
        PairObservations();
        foreach (var seen in _observations.Where(o => o.Code.Means == "result")) Screening(seen);
        foreach (var seen in _observations.Where(o => o.Code.Means == "audiology")) Evaluation(seen);
        foreach (var seen in _observations) Observe(seen);
        foreach (var (i, procedure) in Taken<Procedure>()) NotDone(i, procedure);
        foreach (var (_, birth) in _births.ToList())
            if (birth.Problems.Count > 0 && birth.Position < 0) Reject(birth.Entry, birth.Problems);
        foreach (var row in _rows) Identify(row);
    }

    /// <summary>The entries of a type, in order, without those that are rejected.</summary>
    private IEnumerable<(int Entry, T Resource)> Taken<T>() where T : Resource
    {
        for (var i = 0; i < _bundle.Entry.Count; i++)
            if (!_rejected.Contains(i) && _bundle.Entry[i]?.Resource is T resource) yield return (i, resource);
    }

    private static string PathOf(int entry) => $"Bundle.entry[{entry}].resource";

    /// <summary>The entry has a row of its own that only says why it is not taken.</summary>
    private void Reject(int entry, params IReadOnlyList<Problem> problems)
    {
        _rejected.Add(entry);
        Add(entry, null).Problems.AddRange(problems);
    }

    private FhirRow Add(int entry, RowKind? kind)
    {
        var row = new FhirRow(entry) { Position = _rows.Count };
        if (kind is { } k) row.Set(Field.Kind, Codes.Of(k), PathOf(entry));
        _entries[entry].Rows.Add(row.Position);
        _rows.Add(row);
        return row;
    }

    private void Say(int entry, string path, string text) => _entries[entry].Remark(FhirIssue.Information(entry, path, text));

    /// <summary>The element that names the infant.</summary>
    private static ResourceReference? SubjectOf(Resource? resource) => resource switch
    {
        Observation o => o.Subject,
        RelatedPerson p => p.Patient,
        Encounter e => e.Subject,
        Procedure p => p.Subject,
        Coverage c => c.Beneficiary,
        _ => null,
    };

    /// <summary>The infant an entry is about; null, and the entry rejected, when that cannot be told.</summary>
    private FhirSubject? Subject(int entry)
    {
        var resource = _bundle.Entry[entry].Resource;
        var (subject, problem) = _find.Of(SubjectOf(resource));
        if (subject?.Entry is { } patient && _rejected.Contains(patient))
            (subject, problem) = (null, "refers to a Patient that is not taken");
        if (problem is not null)
            Reject(entry, new Problem($"{PathOf(entry)}.{(resource switch
            {
                RelatedPerson => "patient",
                Coverage => "beneficiary",
                _ => "subject",
            })}", problem));
        return subject;
    }

    /// <summary>The birth row of an infant, to be completed by this entry; null, and the entry rejected, when its birth date is not
    /// known.</summary>
    private FhirRow? BirthOf(FhirSubject subject, int entry)
    {
        if (!_births.TryGetValue(subject.Key, out var row))
        {
            if (subject.Infant is null)
            {
                Reject(entry, new Problem(
                    PathOf(entry), "completes a birth: send it with its Patient, or name the Patient by the registry's id"));
                return null;
            }

            _births[subject.Key] = row = Add(entry, RowKind.Birth);
            _subjects[row] = subject;
            if (_known?.GetValueOrDefault(subject.Infant.Value) is { } known)
                row.Set(Field.BirthDate, FhirTime.Iso(known.BornOn), PathOf(entry));
        }

        if (row.Position >= 0) _entries[entry].Rows.Add(row.Position);
        else Say(entry, PathOf(entry), "says no more than who it is: no birth is recorded");
        return row;
    }

    /// <summary>States in a row who it is about, as far as the Bundle or the registry says.</summary>
    private void Identify(FhirRow row)
    {
        if (row.Values.Count == 0 || !_subjects.TryGetValue(row, out var subject)) return;
        var path = $"{PathOf(row.Entry)}.subject";
        if (subject.Entry is { } patient)
        {
            var birth = _births[$"#{patient}"];
            foreach (var field in Who)
                if (birth.Values.TryGetValue(field, out var value)) row.SetIfAbsent(field, value, birth.PathOf(Codes.Of(field)));
        }
        else if (subject.Identifier is { } identifier)
        {
            row.Set(identifier.System == FhirSystems.CardId ? Field.CardId : Field.RecordNumber, identifier.Value, path);
        }
        else if (_known is not null)
        {
            if (!_known.TryGetValue(subject.Infant!.Value, out var known))
            {
                row.Forget();
                row.Refuse(path, "there is no such Patient, or it is not yours to see");
                return;
            }

            foreach (var (field, value) in known.Who) row.SetIfAbsent(field, value, path);
        }
    }

    private static readonly Field[] Who =
    [
        Field.RecordNumber, Field.CardId, Field.BirthDate, Field.Sex, Field.BirthOrder,
        Field.MotherGivenName, Field.MotherFamilyName, Field.MotherBirthDate,
    ];
}
