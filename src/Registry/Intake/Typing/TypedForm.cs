using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Intake.Typing;

/// <summary>What every such form carries.</summary>
public sealed class TypedForm
{
    /// <summary>Made with the form: sent twice it is one submission.</summary>
    public Guid Key { get; set; }

    /// <summary>What was known when it was opened, or the moment the list was made that it was entered from.</summary>
    public string? Seen { get; set; }

    /// <summary>For which site; for the program's people.</summary>
    public string? Site { get; set; }

    /// <summary>The person saw what would become of it.</summary>
    public bool Confirmed { get; set; }

    /// <summary>What stands in the columns, by their codes; a screen's have the ear behind them.</summary>
    public Dictionary<string, string?> Columns { get; set; } = [];

    public string? Of(Field field, string more = "") => Columns.GetValueOrDefault(Codes.Of(field) + more);
}
