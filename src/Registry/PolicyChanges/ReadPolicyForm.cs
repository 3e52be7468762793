using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using Registry.Rules;

namespace Registry.PolicyChanges;

/// <summary>Reads a filled-in <see cref="PolicyForm"/>: the starting document with what was entered in place of what it had.</summary>
public sealed class ReadPolicyForm
{
    private readonly IFormCollection _entered;
    private readonly List<VersionProblem> _problems = [];

    private ReadPolicyForm(IFormCollection entered) => _entered = entered;

    /// <returns>The proposed policy, or null with what is wrong.</returns>
    public static (Policy? Proposed, IReadOnlyList<VersionProblem> Problems) Over(Policy start, IFormCollection entered)
    {
        var form = PolicyForm.Of(start);
        var read = new ReadPolicyForm(entered);
        var document = JsonNode.Parse(start.ToJson())!.AsObject();
        foreach (var name in new[] { "version", "effectiveFrom", "source" }) document[name] = read.Text(name);
        foreach (var (choice, value) in form.Choices) document[choice.Name] = read.Choice(choice.Name, value);
        document["surveillance"] = read.Surveillance(form.Surveillance);
        document["passCriteria"] = read.PassCriteria(form.PassCriteria.Count);
        if (read._problems.Count > 0) return (null, read._problems);
        try
        {
            return (Policy.FromJson(document.ToJsonString()), []);
        }
        catch (JsonException e)
        {
            return (null, [new VersionProblem.Document(e.Message)]);
        }
    }

    private string Text(string name) => _entered[name].ToString().Trim();

    /// <summary>A deadline, a yes or no, or a number: as the starting value is.</summary>
    private JsonNode? Choice(string name, JsonNode? value) => value switch
    {
        JsonObject => new JsonObject
        {
            ["amount"] = Whole($"{name}.amount"),
            ["unit"] = Text($"{name}.unit"),
            ["inclusive"] = Text($"{name}.inclusive") == "true",
        },
        JsonValue v when v.GetValueKind() is JsonValueKind.True or JsonValueKind.False => Text(name) == "true",
        _ => Whole(name),
    };

    /// <summary>Ages and months of each indicator, which left empty do not apply, and what ends it.</summary>
    private JsonArray Surveillance(IReadOnlyList<JsonObject> times)
    {
        var read = new JsonArray();
        foreach (var (i, time) in times.Index())
        {
            var line = new JsonObject();
            foreach (var (field, value) in time)
            {
                var name = $"surveillance.{i}.{field}";
                line[field] = field == "kind" ? value!.DeepClone()
                    : value?.GetValueKind() is JsonValueKind.True or JsonValueKind.False ? Text(name) == "true"
                    : WholeOrNull(name);
            }

            read.Add(line);
        }

        return read;
    }

    /// <summary>A line left empty is not kept.</summary>
    private JsonArray PassCriteria(int lines)
    {
        var read = new JsonArray();
        for (var i = 0; i < lines; i++)
            if (PolicyForm.CriterionFields.Any(f => Text($"passCriteria.{i}.{f.Field}").Length > 0))
                read.Add(Criterion($"passCriteria.{i}"));
        return read;
    }

    private JsonObject Criterion(string line)
    {
        var criterion = new JsonObject();
        foreach (var (field, number) in PolicyForm.CriterionFields)
        {
            var name = $"{line}.{field}";
            criterion[field] = field switch
            {
                "bands" => Whole(name),
                // Left empty, it is asked for as the bands are.
                "minSnrDb" => Text(name).Length > 0 ? Number(name) : Whole(name),
                "frequenciesHz" => Frequencies(name),
                _ when Text(name).Length == 0 => null,
                _ => number ? Number(name) : Text(name),
            };
        }

        return criterion;
    }

    private JsonArray Frequencies(string name) => new(
        [.. Text(name).Split(',', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries).Select(f => Whole(name, f))]);

    private JsonNode? WholeOrNull(string name) => Text(name).Length > 0 ? Whole(name) : null;

    private JsonNode? Whole(string name) => Whole(name, Text(name));

    private JsonNode? Whole(string name, string text)
    {
        if (int.TryParse(text, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var number)) return number;
        _problems.Add(new VersionProblem.NotWhole(name));
        return null;
    }

    private JsonNode? Number(string name)
    {
        const NumberStyles style = NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint;
        if (decimal.TryParse(Text(name), style, CultureInfo.InvariantCulture, out var number)) return number;
        _problems.Add(new VersionProblem.NotANumber(name));
        return null;
    }
}
