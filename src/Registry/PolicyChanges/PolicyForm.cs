using System.Text.Json.Nodes;
using Registry.Rules;

namespace Registry.PolicyChanges;

/// <summary>The fields of a policy document as a form: every choice the document has, whatever a later version of it may add.</summary>
/// <remarks>Field names are paths in the document: <c>screeningDeadline.amount</c>, <c>surveillance.3.byAgeMonths</c>.</remarks>
public sealed class PolicyForm
{
    private readonly JsonObject _document;
    private readonly Dictionary<string, PolicyChoice> _choices;

    private PolicyForm(Policy policy)
    {
        _document = JsonNode.Parse(policy.ToJson())!.AsObject();
        _choices = policy.Choices().ToDictionary(c => c.Name);
    }

    /// <summary>Lines of the list of criteria that are offered empty.</summary>
    private const int SpareCriteria = 3;

    /// <summary>What a line of the list of criteria states, and whether it is a number.</summary>
    public static readonly IReadOnlyList<(string Field, bool Number)> CriterionFields =
        [("site", false), ("instrument", false), ("method", false), ("bands", true), ("minSnrDb", true), ("minLevelDbSpl", true),
            ("frequenciesHz", false)];

    /// <summary>The choices that have one value, in the order of the document, with what they mean.</summary>
    public IEnumerable<(PolicyChoice Choice, JsonNode? Value)> Choices =>
        _document.Where(p => _choices.ContainsKey(p.Key) && p.Value is not JsonArray).Select(p => (_choices[p.Key], p.Value));

    /// <summary>What sites state their instruments need for a pass, and some empty lines to state more.</summary>
    public IReadOnlyList<JsonObject> PassCriteria =>
        [.. _document["passCriteria"]!.AsArray().Select(n => n!.AsObject()), .. Enumerable.Range(0, SpareCriteria)
            .Select(_ => new JsonObject())];

    public PolicyChoice AboutPassCriteria => _choices["passCriteria"];

    /// <summary>When each risk indicator asks for an evaluation: one object per indicator.</summary>
    public IReadOnlyList<JsonObject> Surveillance => [.. _document["surveillance"]!.AsArray().Select(n => n!.AsObject())];

    public static PolicyForm Of(Policy policy) => new(policy);
}
