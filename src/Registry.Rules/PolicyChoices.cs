using System.Reflection;
using Registry.Rules.Screening;

namespace Registry.Rules;

/// <summary>What a field of the policy means, where its default comes from and how sure we are of that source.</summary>
[AttributeUsage(AttributeTargets.Property)]
public sealed class ChoiceAttribute(string title, string text, string source, SourceMark mark) : Attribute
{
    public string Title { get; } = title;
    public string Text { get; } = text;

    /// <summary>Empty for common practice without a source.</summary>
    public string Source { get; } = source;
    public SourceMark Mark { get; } = mark;
}

/// <summary>One choice of a policy, ready to be shown; <paramref name="Name"/> is the field as spelled in the document.</summary>
public sealed record PolicyChoice(string Name, string Title, string Value, string Text, string Source, SourceMark Mark);

// The choices one by one, for the page that shows them.
public sealed partial record Policy
{
    private static readonly (PropertyInfo Property, ChoiceAttribute Choice)[] Described =
    [
        .. typeof(Policy).GetProperties()
            .Select(p => (p, p.GetCustomAttribute<ChoiceAttribute>()!))
            .Where(p => p.Item2 is not null),
    ];

    /// <summary>Every choice but the surveillance times, which are a table of their own (<see cref="Surveillance"/>).</summary>
    public IReadOnlyList<PolicyChoice> Choices() =>
    [
        .. Described.Where(d => d.Property.Name != nameof(Surveillance)).Select(d => new PolicyChoice(
            System.Text.Json.JsonNamingPolicy.CamelCase.ConvertName(d.Property.Name), d.Choice.Title,
            Words(d.Property.GetValue(this)), d.Choice.Text, d.Choice.Source, d.Choice.Mark)),
    ];

    private static string Words(object? value) => value switch
    {
        bool yes => yes ? "yes" : "no",
        Deadline { Unit: DeadlineUnit.Months } d =>
            $"{(d.Inclusive ? "no later than" : "before")} {d.Amount} {(d.Amount == 1 ? "month" : "months")}",
        Deadline d => $"{(d.Inclusive ? "no later than" : "before")} day {d.Amount}",
        PassCriterion[] criteria => criteria.Length == 0 ? "none stated" : string.Join("; ", criteria.Select(c => c.Words())),
        _ => FormattableString.Invariant($"{value}"),
    };
}
