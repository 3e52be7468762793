namespace Registry.Accounts;

/// <summary>The demonstration: whether the sign-in page offers its people. Never set with real data.</summary>
public sealed record DemoSettings
{
    public bool ShowSignIns { get; init; }

    /// <summary>The people to offer; each with the password of the demonstration.</summary>
    public IReadOnlyList<DemoSignIn> SignIns { get; init; } = [];
}

/// <summary>One offered sign-in.</summary>
public sealed record DemoSignIn
{
    public required string Email { get; init; }
    public required string Password { get; init; }

    /// <summary>Who this is, in words: "Coordinator of the region".</summary>
    public required string As { get; init; }
}
