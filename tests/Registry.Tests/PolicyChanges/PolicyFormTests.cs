using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Primitives;
using Registry.PolicyChanges;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.Tests.PolicyChanges;

/// <summary>Every choice of the document goes through the form and back, those that are lists too.</summary>
public sealed class PolicyFormTests
{
    private static readonly Policy Start = Policy.Default with
    {
        PassCriteria = [new(3, 6) { Site = "harbour", Method = ScreeningMethod.Dpoae, FrequenciesHz = [2000, 3000, 4000, 5000] },
            new(2, 4.5m) { Instrument = "ward 2", MinLevelDbSpl = -5 }],
    };

    [Fact]
    public void A_form_sent_as_it_was_shown_states_the_same_policy()
    {
        var (proposed, problems) = ReadPolicyForm.Over(Start, new FormCollection(Shown(Start)));
        Assert.Empty(problems);
        Assert.Equal(Start.ToJson(), proposed!.ToJson());
    }

    [Fact]
    public void A_criterion_is_added_taken_out_and_refused_with_its_field()
    {
        var entered = Shown(Start);
        foreach (var name in entered.Keys.Where(k => k.StartsWith("passCriteria.0.", StringComparison.Ordinal)).ToList())
            entered[name] = "";
        (entered["passCriteria.2.bands"], entered["passCriteria.2.minSnrDb"]) = ("4", "6");
        var (proposed, problems) = ReadPolicyForm.Over(Start, new FormCollection(entered));
        Assert.Empty(problems);
        Assert.Equal(["instrument ward 2: 2 bands with at least 4.5 dB signal to noise and -5 dB SPL",
            "every test: 4 bands with at least 6 dB signal to noise"],
            proposed!.PassCriteria.Select(c => c.Words()));

        (entered["passCriteria.2.bands"], entered["passCriteria.2.minSnrDb"], entered["passCriteria.2.frequenciesHz"]) = (
            "", "six", "2000, x");
        Assert.Equal(["passCriteria.2.bands: a whole number is needed.", "passCriteria.2.minSnrDb: a number is needed.",
            "passCriteria.2.frequenciesHz: a whole number is needed."],
            ReadPolicyForm.Over(Start, new FormCollection(entered)).Problems.Select(PolicyWords.Of));
    }

    /// <summary>The fields of the page, as a browser sends them back.</summary>
    private static Dictionary<string, StringValues> Shown(Policy policy)
    {
        var form = PolicyForm.Of(policy);
        var fields = new Dictionary<string, StringValues>
        {
            ["version"] = policy.Version,
            ["effectiveFrom"] = policy.EffectiveFrom.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture),
            ["source"] = policy.Source
        };
        foreach (var (choice, value) in form.Choices)
        {
            if (value is JsonObject o) foreach (var (name, part) in o) fields[$"{choice.Name}.{name}"] = Text(part);
            else fields[choice.Name] = Text(value);
        }

        foreach (var (list, name) in new[] { (form.PassCriteria, "passCriteria"), (form.Surveillance, "surveillance") })
            for (var i = 0; i < list.Count; i++)
                foreach (var (field, value) in list[i])
                    fields[$"{name}.{i}.{field}"] = value is JsonArray all ? string.Join(", ", all.Select(Text)) : Text(value);
        return fields;
    }

    private static string Text(JsonNode? value) => value is null ? "" : value.GetValueKind() == JsonValueKind.String
        ? value.GetValue<string>() : value.ToJsonString();
}
