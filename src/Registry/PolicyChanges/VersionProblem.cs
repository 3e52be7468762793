namespace Registry.PolicyChanges;

/// <summary>Why a version may not be drafted.</summary>
public abstract record VersionProblem
{
    /// <summary>The document cannot be, whoever proposes it; said by the rules, naming the field.</summary>
    public sealed record Document(string Said) : VersionProblem;

    public sealed record NotWhole(string Field) : VersionProblem;

    public sealed record NotANumber(string Field) : VersionProblem;

    public sealed record NameTaken : VersionProblem;

    public sealed record TooLong(string Field, int Most) : VersionProblem;

    public sealed record TooEarly(DateOnly Earliest) : VersionProblem;
}
