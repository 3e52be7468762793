namespace Registry.Intake.Formats.Hl7V2;

/// <summary>The characters that structure a message, as its MSH-1 and MSH-2 declare them.</summary>
public readonly record struct Delimiters(char Field, char Component, char Repetition, char Escape, char Subcomponent, char Truncation)
{
    public static readonly Delimiters Usual = new('|', '^', '~', '\\', '&', '\0');

    /// <summary>MSH-2: the delimiters after the field separator.</summary>
    public string EncodingCharacters => Truncation == '\0'
        ? new string([Component, Repetition, Escape, Subcomponent])
        : new string([Component, Repetition, Escape, Subcomponent, Truncation]);
}
