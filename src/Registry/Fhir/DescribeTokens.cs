using System.Text.Json.Serialization;
using Registry.Access.Tokens;

namespace Registry.Fhir;

/// <summary>What a system reads before it asks for a token (SMART App Launch 2.2, "Conformance").</summary>
public sealed record SmartConfiguration(
    [property: JsonPropertyName("token_endpoint")] string TokenEndpoint,
    [property: JsonPropertyName("grant_types_supported")] IReadOnlyList<string> Grants,
    [property: JsonPropertyName("token_endpoint_auth_methods_supported")] IReadOnlyList<string> Methods,
    [property: JsonPropertyName("token_endpoint_auth_signing_alg_values_supported")] IReadOnlyList<string> Algorithms,
    [property: JsonPropertyName("scopes_supported")] IReadOnlyList<string> Scopes,
    [property: JsonPropertyName("code_challenge_methods_supported")] IReadOnlyList<string> Challenges,
    [property: JsonPropertyName("capabilities")] IReadOnlyList<string> Capabilities);

/// <summary><c>GET /fhir/.well-known/smart-configuration</c>.</summary>
public static class DescribeTokens
{
    /// <remarks>The standard asks for <c>S256</c> of everybody, also where, as here, nobody is sent to authorize anything.</remarks>
    public static IResult Get(HttpContext http) => Results.Json(new SmartConfiguration(
        IssueToken.UrlOf(http.Request), ["client_credentials"], ["private_key_jwt"], ["RS384", "ES384"], TokenScopes.Supported, ["S256"],
        ["client-confidential-asymmetric", "permission-v2"]));
}
