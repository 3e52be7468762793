using System.Reflection;
using System.Text.Json;
using Xunit;

namespace Registry.Rules.Tests;

public class PolicyTests
{
    public static TheoryData<string> Presets => ["default", "one-two-three", "cdc"];

    private static Policy Preset(string name) => name switch
    {
        "cdc" => Policy.CdcStrict,
        "one-two-three" => Policy.OneTwoThree,
        _ => Policy.Default,
    };

    [Theory]
    [MemberData(nameof(Presets))]
    public void Goes_to_json_and_back_unchanged(string preset)
    {
        var json = Preset(preset).ToJson();
        Assert.Equal(json, Policy.FromJson(json).ToJson());
        Assert.Empty(Preset(preset).Problems());
    }

    [Fact]
    public void Every_changed_field_survives_the_round_trip()
    {
        var odd = Policy.Default with
        {
            ScreeningDeadline = new(30, DeadlineUnit.Days, false),
            CorrectForPrematurity = true,
            MaxRescreens = 2,
            Surveillance = [.. Policy.Default.Surveillance.Select(t => t with { UntilAgeYears = 4 })],
        };
        var back = Policy.FromJson(odd.ToJson());
        foreach (var property in typeof(Policy).GetProperties(BindingFlags.Public | BindingFlags.Instance))
        {
            if (property.Name == nameof(Policy.Surveillance)) Assert.Equal(odd.Surveillance, back.Surveillance);
            else Assert.Equal(property.GetValue(odd), property.GetValue(back));
        }
    }

    [Fact]
    public void A_field_left_out_has_its_default() =>
        Assert.Equal(5, Policy.FromJson("""{"version":"x","effectiveFrom":"2026-01-01","source":"ours"}""").NicuDays);

    [Theory]
    [InlineData("\"nicuDays\": 5", "\"nicuDays\": -1", "nicuDays: -1 is not between 0 and 90.")]
    [InlineData("\"sessionHours\": 4", "\"sessionHours\": 0", "sessionHours: 0 is not between 1 and 24.")]
    [InlineData("\"version\": \"2026-1\"", "\"version\": \" \"", "version: a name is needed.")]
    [InlineData("\"nicuDays\": 5", "\"nicuDays\": \"five\"", "nicuDays")]
    [InlineData("\"nicuDays\": 5", "\"nicuDay\": 5", "nicuDay")]
    [InlineData("\"version\": \"2026-1\",", "", "version")]
    [InlineData("\"kind\": \"ecmo\"", "\"kind\": \"syndrome\"",
        "surveillance: 'syndrome' must be there once, and is 2 times.")]
    [InlineData("\"everyMonths\": 12,", "\"everyMonths\": 0,", "surveillance[ecmo].everyMonths: 0 is not between 1 and 60.")]
    [InlineData("\"unit\": \"months\"", "\"unit\": \"fortnights\"", "screeningDeadline.unit")]
    public void What_is_wrong_is_named(string good, string bad, string problem)
    {
        var json = Policy.Default.ToJson();
        var at = json.IndexOf(good, StringComparison.Ordinal);
        Assert.True(at >= 0, good);
        var error = Assert.Throws<JsonException>(() => Policy.FromJson(json[..at] + bad + json[(at + good.Length)..]));
        Assert.Contains(problem, error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void An_indicator_an_older_document_does_not_know_has_its_default_time()
    {
        var older = Policy.Default with
        {
            Surveillance = [.. Policy.Default.Surveillance.Where(t => t.Kind < Rules.Facts.RiskIndicatorKind.Sepsis)],
        };
        Assert.Equal(Policy.Default.Surveillance, older.Surveillance);
    }

    [Fact]
    public void Deadlines_out_of_order_are_named() =>
        Assert.Equal(["diagnosisDeadline: it is before screeningDeadline."],
            (Policy.Default with { DiagnosisDeadline = new(20, DeadlineUnit.Days) }).Problems());

    [Fact]
    public void Every_choice_says_what_it_means_and_where_it_comes_from()
    {
        string[] header = [nameof(Policy.Version), nameof(Policy.EffectiveFrom), nameof(Policy.Source), nameof(Policy.Zone)];
        var undescribed = typeof(Policy).GetProperties(BindingFlags.Public | BindingFlags.Instance)
            .Where(p => !header.Contains(p.Name) && p.GetCustomAttribute<ChoiceAttribute>() is null).Select(p => p.Name);
        Assert.Empty(undescribed);
        Assert.All(Policy.Default.Choices(), c => Assert.True(c.Mark == SourceMark.CommonPractice || c.Source.Length > 0, c.Name));
        Assert.Contains(Policy.CdcStrict.Choices(), c => c is { Name: "screeningDeadline", Value: "before 1 month" });
    }
}
