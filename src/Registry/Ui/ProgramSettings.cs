namespace Registry.Ui;

/// <summary>The program's own name and how families and sites reach it, shown on pages.</summary>
public sealed record ProgramSettings
{
    public string Name { get; init; } = "Newborn Hearing Registry";

    /// <summary>Where people who cannot sign in turn to, in words.</summary>
    public string Help { get; init; } = "Ask your program's coordinator.";
}
