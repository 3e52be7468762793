using System.Text.Json;
using System.Text.Json.Serialization;

namespace Registry.Rules;

/// <summary>Calendar months or whole days after birth.</summary>
public enum DeadlineUnit { Months, Days }

/// <summary>
/// A deadline counted from a date. <paramref name="Inclusive"/>: the boundary day itself is in time ("no later than",
/// JCIH) or not ("before", CDC). A month deadline on a day the target month lacks falls on its last day
/// (born 31 January, one month: 28 or 29 February).
/// </summary>
public readonly record struct Deadline(int Amount, DeadlineUnit Unit, bool Inclusive = true)
{
    /// <summary>The last day that is in time.</summary>
    public DateOnly LastDay(DateOnly from)
    {
        var boundary = Unit == DeadlineUnit.Months ? from.AddMonths(Amount) : from.AddDays(Amount);
        return Inclusive ? boundary : boundary.AddDays(-1);
    }
}

/// <summary>
/// Every threshold and choice a program may make, as one versioned, effective-dated document. Published constants that a
/// program may not choose live beside the rule that uses them, with their citation.
/// </summary>
public sealed record Policy
{
    /// <summary>Name of this version, printed on every page and report.</summary>
    public required string Version { get; init; }
    public required DateOnly EffectiveFrom { get; init; }

    /// <summary>Where the choices come from, in words.</summary>
    public required string Source { get; init; }

    public Deadline ScreeningDeadline { get; init; } = new(1, DeadlineUnit.Months);
    public Deadline DiagnosisDeadline { get; init; } = new(3, DeadlineUnit.Months);
    public Deadline InterventionDeadline { get; init; } = new(6, DeadlineUnit.Months);

    /// <summary>The policy a new registry starts with: JCIH 2019's "no later than" in calendar months.</summary>
    public static Policy Default { get; } = new()
    {
        Version = "2026-1",
        EffectiveFrom = new DateOnly(2020, 1, 1),
        Source = "JCIH Year 2019 Position Statement (JEHDI 4(2):1-44); JCIH 2007 (Pediatrics 120:898)",
    };

    private static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web)
    {
        WriteIndented = true,
        Converters = { new JsonStringEnumConverter(JsonNamingPolicy.SnakeCaseLower) },
    };

    /// <summary>The document as stored and shown.</summary>
    public string ToJson() => JsonSerializer.Serialize(this, Json);

    /// <summary>Reads a document written by <see cref="ToJson"/>.</summary>
    /// <exception cref="JsonException">Not a policy document; the message names the field.</exception>
    public static Policy FromJson(string json) =>
        JsonSerializer.Deserialize<Policy>(json, Json) ?? throw new JsonException("The document is empty.");
}
