using Microsoft.IdentityModel.JsonWebTokens;
using Microsoft.IdentityModel.Tokens;

namespace Registry.Access.Tokens;

/// <summary>
/// The signed word by which a system proves who it is (<c>private_key_jwt</c>): SMART App Launch 2.2, "Client Authentication: Asymmetric"
/// (headers, claims, five minutes, jti once), over RFC 7523 section 3 and RFC 7515. The signature is checked by the library of Microsoft's
/// identity model; by which key, and what the claims must say, here.
/// </summary>
public sealed class Assertion
{
    /// <summary>How far ahead its end may lie.</summary>
    public static readonly TimeSpan Longest = TimeSpan.FromMinutes(5);

    /// <summary>How far the system's clock may be off.</summary>
    public static readonly TimeSpan Skew = TimeSpan.FromSeconds(30);

    private const int LongestText = 8 * 1024, LongestId = 300;
    private static readonly JsonWebTokenHandler Handler = new() { MaximumTokenSizeInBytes = LongestText };

    private readonly JsonWebToken _token;

    private Assertion(JsonWebToken token, Guid client, string id) => (_token, Client, Id) = (token, client, id);

    /// <summary>Who it says it is.</summary>
    public Guid Client { get; }

    /// <summary>Its <c>jti</c>.</summary>
    public string Id { get; }

    /// <summary>Reads one and judges what can be judged of it alone.</summary>
    /// <param name="text">As it was sent.</param>
    /// <param name="audience">The address it must be meant for.</param>
    /// <param name="now">The moment.</param>
    /// <returns>The assertion, whose signature nobody has looked at yet; or what is wrong with it, for who wrote the system.</returns>
    public static (Assertion? Read, string? Problem) Read(string text, string audience, DateTimeOffset now)
    {
        JsonWebToken token;
        try
        {
            if (text.Length > LongestText) return (null, "it is too long");
            token = new(text);
        }
        catch (Exception e) when (e is ArgumentException or SecurityTokenException)
        {
            return (null, "it is no signed JWT, or a claim is not of its kind");
        }

        if (HeaderProblem(token) is { } header) return (null, header);
        if (!Guid.TryParseExact(Text(token, "iss"), "D", out var client) || Text(token, "sub") != Text(token, "iss"))
            return (null, "iss and sub must both be the client_id");
        // Exactly one: what is meant for others too, others could show here.
        if (!token.Audiences.SequenceEqual([audience])) return (null, $"aud must be {audience} and nothing else");
        if (Text(token, "jti") is not { Length: > 0 and <= LongestId } id)
            return (null, $"jti must be a text of 1 to {LongestId} characters");
        return DaysProblem(token, now.ToUnixTimeSeconds()) is { } days ? (null, days) : (new(token, client, id), null);
    }

    /// <summary>Whether the key of these that it names signed it.</summary>
    public Task<bool> IsSignedByAsync(string publicKeys) => IsSignedAsync(_token, publicKeys);

    public static async Task<bool> IsSignedAsync(JsonWebToken token, string publicKeys)
    {
        if (PublicKeySet.Find(publicKeys, token.Kid, token.Alg) is not { } key) return false;
        var looked = await Handler.ValidateTokenAsync(token.EncodedToken, new()
        {
            IssuerSigningKey = key,
            ValidAlgorithms = [token.Alg],
            RequireSignedTokens = true,
            ValidateIssuer = false, // what it says is judged above, by the program's own clock
            ValidateAudience = false,
            ValidateLifetime = false,
        });
        return looked.IsValid;
    }

    private static string? HeaderProblem(JsonWebToken token)
    {
        if (token.Alg is not (SecurityAlgorithms.RsaSha384 or SecurityAlgorithms.EcdsaSha384)) return "alg must be RS384 or ES384";
        if (token.Typ != "JWT") return "typ must be JWT";
        if (string.IsNullOrEmpty(token.Kid)) return "kid is missing";
        if (token.TryGetHeaderValue<object>("jku", out _)) return "jku is not taken: the public keys are registered here";
        return token.TryGetHeaderValue<object>("crit", out _) ? "crit names what is not understood" : null;
    }

    private static string? DaysProblem(JsonWebToken token, long now)
    {
        var skew = (long)Skew.TotalSeconds;
        if (!token.TryGetPayloadValue<long>("exp", out var ends)) return "exp is missing, or no number of seconds";
        if (ends <= now - skew) return "it has ended (exp)";
        if (ends > now + skew + (long)Longest.TotalSeconds) return "exp is more than five minutes ahead";
        foreach (var name in (string[])["nbf", "iat"])
            if (token.TryGetPayloadValue<object>(name, out _)
                && (!token.TryGetPayloadValue<long>(name, out var begins) || begins > now + skew)) return $"{name} lies ahead";
        return null;
    }

    private static string? Text(JsonWebToken token, string claim) => token.TryGetPayloadValue<string>(claim, out var text) ? text : null;
}
