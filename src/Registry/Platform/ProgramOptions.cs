using System.ComponentModel.DataAnnotations;

namespace Registry.Platform;

/// <summary>"3 Nov 2026", "Nov 3, 2026" or "2026-11-03".</summary>
public enum DateOrder { DayFirst, MonthFirst, YearFirst }

/// <summary>The program this registry serves: its name on screen and in letters, its time zone. What the settings say is the beginning;
/// what the program states of itself on a page stands above it (<see cref="ProgramInForce"/>).</summary>
public sealed record ProgramOptions
{
    [Required] public string Name { get; init; } = "Infant Hearing Registry";
    [Required] public string Region { get; init; } = "Lindmere";

    /// <summary>The state the program serves, as reports state the state of residence: who lives there is a resident. Empty: not
    /// asked.</summary>
    public string State { get; init; } = "";

    /// <summary>IANA time zone whose calendar day "today" is.</summary>
    [Required] public string TimeZone { get; init; } = "UTC";

    /// <summary>Pins "today" for demonstrations and tests; null in service.</summary>
    public DateOnly? Today { get; init; }

    /// <summary>How the region writes a day, on every page and in every letter to staff.</summary>
    public DateOrder DateOrder { get; init; }

    /// <summary>Whether a record's name stands in the browser's tab, where whoever passes the screen reads it.</summary>
    public bool NameInTitle { get; init; }

    /// <summary>Telephone number families and staff are told to call.</summary>
    public string Phone { get; init; } = "555-0100";

    /// <summary>Who answers for the privacy of families: a name and a way to reach them; null until it is stated.</summary>
    public string? PrivacyContact { get; init; }

    /// <summary>The languages the program writes to families in; empty: all there are.</summary>
    public IReadOnlyList<string> Languages { get; init; } = [];

    /// <summary>The counties of the region; empty: whatever a place states.</summary>
    public IReadOnlyList<string> Counties { get; init; } = [];
}
