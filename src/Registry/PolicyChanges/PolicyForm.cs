using System.Globalization;
using System.Text.Json;
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

    /// <summary>The document with what was entered in place of what it had.</summary>
    /// <returns>The proposed policy, or null with what is wrong, each naming the field.</returns>
    public static (Policy? Proposed, IReadOnlyList<string> Problems) Read(Policy start, IFormCollection entered)
    {
        var form = new PolicyForm(start);
        var document = form._document;
        var problems = new List<string>();
        foreach (var name in new[] { "version", "effectiveFrom", "source" }) document[name] = Text(name);
        foreach (var (choice, value) in form.Choices.ToList())
            document[choice.Name] = Enter(choice.Name, value);
        for (var i = 0; i < form.Surveillance.Count; i++)
        {
            var time = form.Surveillance[i];
            foreach (var field in time.Where(f => f.Key != "kind").Select(f => f.Key).ToList())
                time[field] = Text($"surveillance.{i}.{field}") is { Length: > 0 } text ? Number($"surveillance.{i}.{field}", text) : null;
        }

        var criteria = new JsonArray();
        for (var i = 0; i < form.PassCriteria.Count; i++)
            if (CriterionFields.Any(f => Text($"passCriteria.{i}.{f.Field}").Length > 0)) criteria.Add(Criterion($"passCriteria.{i}"));
        document["passCriteria"] = criteria;
        if (problems.Count > 0) return (null, problems);
        try
        {
            return (Policy.FromJson(document.ToJsonString()), []);
        }
        catch (JsonException e)
        {
            return (null, [e.Message]);
        }

        string Text(string name) => entered[name].ToString().Trim();

        JsonNode? Enter(string name, JsonNode? value) => value switch
        {
            JsonObject => new JsonObject
            {
                ["amount"] = Number($"{name}.amount", Text($"{name}.amount")),
                ["unit"] = Text($"{name}.unit"),
                ["inclusive"] = Text($"{name}.inclusive") == "true",
            },
            JsonValue v when v.GetValueKind() is JsonValueKind.True or JsonValueKind.False => Text(name) == "true",
            _ => Number(name, Text(name)),
        };

        JsonObject Criterion(string line)
        {
            var criterion = new JsonObject();
            foreach (var (field, number) in CriterionFields)
            {
                var (name, text) = ($"{line}.{field}", Text($"{line}.{field}"));
                if (field == "frequenciesHz")
                    criterion[field] = new JsonArray(
                        [.. text.Split(',', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries)
                        .Select(f => Number(name, f))]);
                else if (text.Length == 0) criterion[field] = field is "bands" or "minSnrDb" ? Number(name, text) : null;
                else if (field == "bands") criterion[field] = Number(name, text);
                else if (!number) criterion[field] = text;
                else if (decimal.TryParse(text, NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint,
                    CultureInfo.InvariantCulture, out var value)) criterion[field] = value;
                else problems.Add($"{name}: a number is needed.");
            }

            return criterion;
        }

        JsonNode? Number(string name, string text)
        {
            if (int.TryParse(text, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var number)) return number;
            problems.Add($"{name}: a whole number is needed.");
            return null;
        }
    }
}
