using System.Globalization;
using Hl7.Fhir.Model;
using Registry.Intake.Formats.Fhir;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using IssueType = Hl7.Fhir.Model.OperationOutcome.IssueType;
using Severity = Hl7.Fhir.Model.OperationOutcome.IssueSeverity;

namespace Registry.Fhir;

/// <summary>
/// Says of each entry what became of its rows: 201 recorded (with its location), 200 recorded already or part of another row, 202 waits,
/// 400 not readable, 412 the condition of a conditional create finds several, 422 anything else that was rejected.
/// </summary>
public sealed class AnswerBundle(TranslatedBundle bundle, IReadOnlyList<RowReport> rows, IReadOnlyDictionary<int, Guid> facts)
{
    private static readonly string Accepted = Codes.Of(RowOutcome.Accepted);
    private static readonly string Rejected = Codes.Of(RowOutcome.Rejected);
    private static readonly string Held = Codes.Of(RowOutcome.Held);
    private static readonly string StillWaiting = Codes.Of(RowOutcome.StillWaiting);

    /// <summary>Nothing was stored: every entry is told in words what would become of it, and none has a location.</summary>
    public bool IsTrial { get; init; }

    public Bundle Response() => new()
    {
        Type = bundle.AllOrNothing ? Bundle.BundleType.TransactionResponse : Bundle.BundleType.BatchResponse,
        Entry = [.. bundle.Entries.Select(Entry)],
    };

    /// <summary>A transaction of which nothing was applied, or null.</summary>
    public FhirResult? Refusal()
    {
        if (!bundle.AllOrNothing || rows.All(r => r.Outcome != Rejected)) return null;
        var issues = bundle.Entries.SelectMany(Issues).ToList();
        return FhirResult.Problem(rows.Any(IsAmbiguous) ? 412 : 422, issues.Where(i => i.IsError).Concat(issues.Where(i => !i.IsError)));
    }

    /// <summary>The only entry as an answer of its own.</summary>
    public FhirResult Alone(Func<string, string> path)
    {
        var entry = bundle.Entries[0];
        var (status, location) = Status(entry);
        var issues = Issues(entry).Select(i => i with { Expression = path(i.Expression) }).ToList();
        if (issues.Count == 0) issues.Add(FhirIssue.Information(0, path("Bundle.entry[0].resource"), Words(entry, status)));
        return new(status, FhirResult.Outcome(issues), location is null ? null : $"/fhir/{location}");
    }

    private Bundle.EntryComponent Entry(FhirEntry entry)
    {
        var (status, location) = Status(entry);
        var issues = Issues(entry).ToList();
        if (IsTrial && issues.Count == 0)
            issues.Add(FhirIssue.Information(entry.Index, $"Bundle.entry[{entry.Index}].resource", Words(entry, status)));
        return new()
        {
            Response = new()
            {
                Status = status.ToString(CultureInfo.InvariantCulture),
                Location = location,
                Outcome = issues.Count == 0 ? null : FhirResult.Outcome(issues),
            },
        };
    }

    private (int Status, string? Location) Status(FhirEntry entry)
    {
        var of = entry.Rows.Select(r => rows[r]).ToList();
        if (entry.Unreadable) return (400, null);
        if (of.Exists(IsAmbiguous)) return (412, null);
        if (of.Exists(r => r.Outcome == Rejected)) return (422, null);
        if (of.Exists(r => r.Outcome == Held || r.Outcome == StillWaiting)) return (202, null);
        if (of.Count == 0) return (200, null);
        var first = of[0];
        var isOwn = bundle.Rows[first.Row - 1].Entry == entry.Index;
        var location = IsTrial ? null : entry.ResourceType == "Patient" || !facts.TryGetValue(first.Row, out var fact)
            ? first.InfantId is { } infant && entry.ResourceType == "Patient" ? $"Patient/{infant}" : null
            : $"{(entry.ResourceType is "RelatedPerson" or "Coverage" ? entry.ResourceType : "Observation")}/{fact}";
        return (isOwn && (IsTrial || location is not null) && of.Exists(r => r.Outcome == Accepted) ? 201 : 200, location);
    }

    /// <summary>What became, or would become, of an entry of which nothing else is said.</summary>
    private string Words(FhirEntry entry, int status) => (status, IsTrial) switch
    {
        (201, false) => "recorded",
        (201, true) => "would be recorded",
        (_, true) when entry.Rows.Any(r => rows[r].Outcome == Accepted) => "would be recorded as a part of another row",
        _ => "recorded already",
    };

    private static bool IsAmbiguous(RowReport row) => row.Problems.Any(p => p.Field == OnlyIfField.Name);

    /// <summary>What became of the entry's own rows, what of it stands in the way of a row it completes, and what was said while it was
    /// read.</summary>
    private IEnumerable<FhirIssue> Issues(FhirEntry entry)
    {
        var blocked = false;
        foreach (var at in entry.Rows)
        {
            var (row, said) = (rows[at], bundle.Rows[at]);
            var own = said.Entry == entry.Index;
            var severity = row.Outcome == Accepted ? Severity.Warning : Severity.Error;
            foreach (var issue in row.Problems.Select(p => Issue(entry, said, p, severity))
                .Where(i => own || i.Expression.StartsWith($"Bundle.entry[{entry.Index}].", StringComparison.Ordinal)))
            {
                blocked |= severity == Severity.Error;
                yield return issue;
            }

            if (row.Outcome == Rejected && !blocked)
            {
                blocked = true;
                yield return new(entry.Index, Severity.Error, IssueType.BusinessRule, $"Bundle.entry[{entry.Index}].resource",
                    $"belongs to the row of entry {said.Entry}, which is rejected");
            }

            if (row.Outcome == Held && own)
                yield return new(entry.Index, Severity.Warning, IssueType.Incomplete, said.PathOf(null),
                    $"held ({row.HeldReason}): kept whole and not applied");
            if (row.Outcome == StillWaiting && own)
            {
                yield return new(entry.Index, Severity.Warning, IssueType.Incomplete, said.PathOf(null),
                    "sent before and still waiting: kept once and not applied");
            }
        }

        foreach (var issue in entry.Issues) yield return issue;
    }

    private static FhirIssue Issue(FhirEntry entry, FhirRow said, Problem problem, Severity severity)
    {
        var condition = problem.Field == OnlyIfField.Name;
        var path = said.PathOf(condition ? $"{said.EntryPath}.request.ifNoneExist" : problem.Field);
        var type = entry.Unreadable ? IssueType.Invalid : condition ? IssueType.MultipleMatches : IssueType.BusinessRule;
        var column = problem.Field is { } field && !field.StartsWith("Bundle", StringComparison.Ordinal) ? $"{field}: " : "";
        return new(entry.Index, severity, type, path, column + problem.Reason);
    }
}
