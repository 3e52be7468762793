using Microsoft.AspNetCore.Identity;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Access;

/// <summary>
/// People signed in by an OpenID provider (OpenID Connect Core 1.0, code flow); bound from <c>OpenId</c>. Without an authority there is
/// none. Who somebody is says the provider, by issuer and subject. What they are: by <see cref="Places"/> the provider says that too, at
/// every sign-in; without any, people are invited and placed here.
/// </summary>
public sealed record OpenIdSettings
{
    public const string Scheme = "OpenId";

    /// <summary>The provider's address, under which its <c>.well-known/openid-configuration</c> lies; its issuer must be the
    /// same.</summary>
    public string? Authority { get; init; }

    /// <summary>What people call it, on the button.</summary>
    public string Name { get; init; } = "your organization";
    public string ClientId { get; init; } = "";

    /// <summary>A secret file, <c>OpenId__ClientSecret</c>.</summary>
    public string ClientSecret { get; init; } = "";

    /// <summary>Asked for beside <c>openid profile email</c>.</summary>
    public IReadOnlyList<string> Scopes { get; init; } = [];

    /// <summary>The claim of the ID token whose values say what somebody is.</summary>
    public string PlaceClaim { get; init; } = "groups";
    public IReadOnlyList<OpenIdPlace> Places { get; init; } = [];

    /// <summary>The claim that says how they proved themselves: <c>amr</c> (RFC 8176) or <c>acr</c>.</summary>
    public string FactorClaim { get; init; } = "amr";

    /// <summary>Its values that stand for a second factor. None: whoever needs one shows the one they have here.</summary>
    public IReadOnlyList<string> FactorValues { get; init; } = [];

    /// <summary>Lets people of the provider sign in by a password or passkey of this registry too.</summary>
    public bool LocalSignIn { get; init; }

    public bool IsOn => !string.IsNullOrEmpty(Authority);

    /// <summary>Whether a token's issuer is the one that is trusted; a slash at the end is written by some and not by others.</summary>
    public bool Trusts(string issuer) => Authority is { } own && issuer.TrimEnd('/') == own.TrimEnd('/');

    /// <summary>Whether somebody signs in at the provider and not here. Asked of nobody too, so that it tells nothing.</summary>
    public async Task<bool> IsElsewhereAsync(UserManager<Person> people, Person person) =>
        IsOn && !LocalSignIn && (await people.GetLoginsAsync(person)).Count > 0;

    public static OpenIdSettings Read(IConfiguration configuration) =>
        (configuration.GetSection("OpenId").Get<OpenIdSettings>() ?? new()).Checked();

    /// <exception cref="InvalidOperationException">A setting is missing or names what there is not.</exception>
    private OpenIdSettings Checked()
    {
        if (!IsOn) return this;
        if (!Uri.TryCreate(Authority, UriKind.Absolute, out _)) throw new InvalidOperationException("OpenId:Authority is no address.");
        if (ClientId.Length == 0 || ClientSecret.Length == 0)
            throw new InvalidOperationException("OpenId:ClientId and OpenId:ClientSecret are required with OpenId:Authority.");
        foreach (var (i, place) in Places.Index())
            if (place.Value.Length == 0 || place.AsRole is not { } role || Permissions.NeedsSite(role) != !string.IsNullOrEmpty(place.Site))
                throw new InvalidOperationException(
                    $"OpenId:Places:{i} needs a Value, a Role (a code), and a Site (its code) exactly where the role works at one.");
        return this;
    }
}

/// <summary>What a value of the claim makes of somebody.</summary>
public sealed record OpenIdPlace
{
    public string Value { get; init; } = "";
    public string Role { get; init; } = "";

    /// <summary>The site's code.</summary>
    public string? Site { get; init; }

    internal Role? AsRole => Codes.TryParse<Role>(Role, out var role) ? role : null;
}
